"""Two compared files as one object."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

from sweeper.audio import SoundFile
from sweeper.audio.null import Null
from sweeper.meter.alignment import Alignment
from sweeper.meter.thirds import NOMINAL_HZ
from sweeper.quantities import OF_FILES, Measurements
from sweeper.recall.repeating import Unsteady
from sweeper.records import Sheet
from sweeper.render.comparison import Compared, Deep


def data_of(found: Compared, sheets: Sequence[Sheet | None], unsteady: Sequence[Unsteady]) -> dict[str, object]:
    """Everything that was found, B against A, for JSON. sheets: of A and of B. unsteady: what does not repeat."""
    rate_hz, (ours, theirs) = found.one.format.rate_hz, found.measurements
    data: dict[str, object] = {
        "schema": 1, "identical": found.identical, "same_when_aligned": found.same_when_aligned,
        "a": _file(found.one, sheets[0], ours), "b": _file(found.other, sheets[1], theirs),
        "common": {"first_frame_of_a": found.first_frame, "frames": found.frames, "duration_s": found.frames / rate_hz},
        "alignment": _alignment(found.alignment, rate_hz),
        "louder_db": found.louder_db, "louder_by": found.louder_by or None,
        "null": _null(found.null, found.left_db), "null_as_they_are": _null(found.as_is, None),
        "unsteady": [asdict(one) for one in within(found, unsteady)],
        "differences": differences(found),
        "thirds_db": [{"hz": hz, "difference_db": value}
                      for hz, value in zip(NOMINAL_HZ, found.thirds_db, strict=True)],
        "image": None if found.shift is None else asdict(found.shift),
    }  # fmt: skip
    return data if found.deep is None else {**data, "inside": _inside(found.deep, rate_hz)}


def differences(found: Compared) -> dict[str, float | None]:
    """Each measurement of B less that of A; None where one of them has none."""
    ours, theirs = found.measurements
    pairs = {quantity.key: (ours[quantity.key], theirs[quantity.key]) for quantity in OF_FILES}
    return {key: None if one is None or other is None else other - one for key, (one, other) in pairs.items()}


def within(found: Compared, unsteady: Sequence[Unsteady]) -> list[Unsteady]:
    """The stages whose own two renders differ by no less than what is left of these two files."""
    peak_dbfs = None if found.null is None else found.null.peak_dbfs
    return [] if peak_dbfs is None else [one for one in unsteady if one.floor_dbfs >= peak_dbfs]


def _inside(deep: Deep, rate_hz: int) -> dict[str, object]:
    explained = deep.explained
    share, told = explained.working_share, explained.residue_db is not None
    return {
        "from_s": deep.first_frame / rate_hz, "to_s": (deep.first_frame + deep.frames) / rate_hz,
        "attenuation_db": explained.attenuation_db, "attenuation_median_db": explained.median_db,
        "attenuation_most_db": explained.most_db, "attenuation_share_pct": None if share is None else 100 * share,
        "residue_db": explained.residue_db, "residue_floor_db": explained.floor_db if told else None,
        "remarks": list(explained.remarks),
    }  # fmt: skip


def _file(file: SoundFile, sheet: Sheet | None, measurements: Measurements) -> dict[str, object]:
    data: dict[str, object] = {
        "file": str(file.path), "frames": file.frames, "rate_hz": file.format.rate_hz,
        "channels": file.format.channels, "measurements": measurements.as_data(),
    }  # fmt: skip
    return data if sheet is None else {**data, "title": sheet.title, "variant": sheet.variant, "id": sheet.id}


def _alignment(alignment: Alignment | None, rate_hz: int) -> dict[str, object] | None:
    if alignment is None:
        return None
    return {
        "offset_frames": alignment.offset_frames, "offset_ms": alignment.offset_frames / rate_hz * 1000,
        "inverted": list(alignment.inverted), "likeness": alignment.likeness, "drift_ppm": alignment.drift_ppm,
        "wanders": alignment.wanders, "exchanged": alignment.exchanged,
        "places": [{"at_s": place.at_s, "offset_frames": place.offset_frames, "likeness": place.lag.likeness}
                   for place in alignment.places],
    }  # fmt: skip


def _null(null: Null | None, left_db: float | None) -> dict[str, object] | None:
    if null is None:
        return None
    data: dict[str, object] = {
        "peak_dbfs": null.peak_dbfs, "rms_dbfs": null.rms_dbfs, "at_s": null.at_s, "frame": null.frame,
        "channel": null.channel,
    }  # fmt: skip
    return data if left_db is None else {**data, "rms_below_a_db": -left_db}
