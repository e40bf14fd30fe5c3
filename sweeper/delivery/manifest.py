"""What was printed, for the run's own folder: how each file was made, and what was measured in it."""

from __future__ import annotations

import dataclasses
import json
import os
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from pathlib import Path

from sweeper.audio.converting import QUALITY
from sweeper.chain.print_model import PrintSpec
from sweeper.delivery.folders import Places
from sweeper.delivery.outcome import Print
from sweeper.delivery.remarks import remarks
from sweeper.version import VERSION

SCHEMA = 1


def manifest(prints: Sequence[Print], places: Places, now: datetime) -> dict[str, object]:
    """The manifest for JSON. `id` of a file is what the file itself carries, `sheet` where that leads to."""
    return {
        "schema": SCHEMA,
        "created": f"{now:%Y-%m-%dT%H:%M:%S}",
        "sweeper": VERSION,
        "folder": str(places.folder),
        "checksums": places.checksums.name,
        "manifest": str(places.manifest),
        "files": [_file(one, places.manifest.parent) for one in prints],
    }


def manifest_text(data: Mapping[str, object]) -> str:
    """As it is written."""
    return json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def checksums_text(prints: Sequence[Print], folder: Path) -> str:
    """The list of checksums of printed files, in the form that `sha256sum -c` reads, for a file in `folder`."""
    return "".join(f"{one.printed.sha256}  {one.printed.target.relative_to(folder).as_posix()}\n" for one in prints)


def _file(one: Print, beside: Path) -> dict[str, object]:
    order, ahead, printed = one.order, one.ahead, one.printed
    converts = ahead.rate_hz != ahead.source.rate_hz
    return {
        "file": printed.target.name,
        "id": order.labels.reference,
        "variant": one.kept.id,
        "sheet": _seen(one.kept.sheet_path, beside),
        "render_sha256": order.audio_sha256,
        "spec": spec_data(order.spec),
        "title": order.labels.title or None,
        "artist": order.labels.artist or None,
        "isrc": order.labels.isrc or None,
        "album": order.labels.album or None,
        "track": order.labels.track or None,
        "rate_conversion": {"from_hz": ahead.source.rate_hz, "to_hz": ahead.rate_hz, "by": f"soxr {QUALITY}"}
        if converts
        else None,
        "frames": dict(_frames(one)),
        "ceiling_dbtp": one.ceiling.dbtp,
        "ceiling_why": one.ceiling.why,
        "before_words_true_peak_dbtp": ahead.true_peak_dbtp,
        "level_db": order.level_db,
        "gain_db": order.gain_db,
        "dither": None if order.spec.word is None else order.spec.dither,
        "seed": order.seed if order.spec.dither != "none" else None,
        "source_bits": ahead.bits,
        "sha256": printed.sha256,
        "audio_sha256": printed.audio_sha256,
        "bytes": printed.bytes,
        "encoding": printed.encoding,
        "rate_hz": printed.format.rate_hz,
        "channels": printed.format.channels,
        "clipped": printed.clipped,
        "identical_to_render": printed.identical,
        "measurements": printed.measurements.as_data(),
        "decoded": None if printed.coded is None else dataclasses.asdict(printed.coded),
        "remarks": list(remarks(one)),
    }


def _frames(one: Print) -> Iterator[tuple[str, int]]:
    cut = one.ahead.cut
    yield from (
        ("render", one.ahead.source_frames),
        ("start", cut.start),
        ("end", cut.end),
        ("fade_in", cut.fade_in),
        ("fade_out", cut.fade_out),
        ("silence", cut.silence),
        ("printed", one.printed.frames),
    )


def spec_data(spec: PrintSpec) -> dict[str, object]:
    """A spec for JSON."""
    return {
        "name": spec.name,
        "about": spec.about,
        "format": spec.format,
        "rate_hz": spec.rate_hz,
        "word": spec.word.text if spec.word else None,
        "dither": spec.dither,
        "ceiling_dbtp": spec.ceiling_dbtp,
        "as_rendered": spec.as_rendered,
        "kbps": spec.kbps,
        "quality": spec.quality,
    }


def _seen(path: Path, beside: Path) -> str:
    """A path as seen from the manifest, or whole where it lies in another run."""
    try:
        return Path(os.path.relpath(path, beside)).as_posix()
    except ValueError:  # on another drive: no way leads there from here
        return str(path)
