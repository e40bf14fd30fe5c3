"""The manifest: everything that the page shows and plays, as plain data. Its schema is part of the page's own files."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from sweeper.audition.gathered import Gathered, Ready, ReadyMix
from sweeper.audition.heard import Kind
from sweeper.audition.look import COLUMNS, SHORT_TERM_STEP_S
from sweeper.audition.preview import playback_data, preview_data
from sweeper.audition.standing import limits_of, targets_of
from sweeper.chain.one_condition import preferences_in
from sweeper.errors import SweeperError
from sweeper.meter.quiet_copy import OVER_TIME_S
from sweeper.meter.thirds import differences_db
from sweeper.quantities import Measurements, find_quantity
from sweeper.render.finalists import INSIDE_NAME
from sweeper.render.folder import RUN_NAME, slug
from sweeper.render.inside import LEAD_S
from sweeper.table.row import Row

SCHEMA = 1
CAUTION = ("Mind your ears and speakers: begin with the monitors turned down. Matched levels are alike; the true "
           "delivery level can be much louder.")  # fmt: skip
#: What a scatter shows where nothing is preferred.
USUAL_AXES = ("crest_loud_db", "loudness_range_lu")
#: How a sound gets to the page: the place of its samples, for "served" or "exported".
Audio = Callable[[Ready], Mapping[str, object]]


def manifest(ready: Gathered, mode: str, audio: Audio, private: bool = True) -> dict[str, Any]:
    """The manifest. mode: "served" or "exported". audio: says where a sound's samples are.

    private: with settings, stages and reasons, which are the engineer's own; without them nothing in it tells what
    made a variant.
    """
    run = ready.heard.run
    shown = [_all(row, private) for row in run.rows if row.done]
    return {
        "schema": SCHEMA, "title": run.title, "run": ready.heard.identity,
        "made": datetime.now().astimezone().isoformat(timespec="seconds"), "mode": mode,
        "notes_file_name": f"{slug(run.title)}.picks.json", "caution": CAUTION,
        "matched_over": list(ready.matched_over), "warnings": list(ready.warnings),
        "mixes": [_mix(mix, run.path, audio, private) for mix in ready.mixes],
        "scatter": _axes(run.chain_text, shown), "all": shown, "quantities": _quantities(shown, ready.sounds),
    }  # fmt: skip


def _mix(mix: ReadyMix, run: Path, audio: Audio, private: bool) -> dict[str, object]:
    untouched = next((sound for sound in mix.sounds if sound.found.kind is Kind.MIX), None)
    sections = [{"name": one.name, "from_s": one.start_s, "to_s": one.end_s} for one in mix.heard.sections]
    return {
        "number": mix.heard.number, "name": mix.heard.name, "rate_hz": mix.rate_hz, "frames": mix.frames,
        "sections": sections,
        "sounds": [_sound(one, mix, untouched, run, audio, private) for one in mix.sounds],
    }  # fmt: skip


def _sound(one: Ready, mix: ReadyMix, untouched: Ready | None, run: Path, audio: Audio,
           private: bool) -> dict[str, object]:  # fmt: skip
    row, look, measured = one.found.row, one.look, one.found.measurements or one.look.measured
    return {
        "id": one.found.id, "kind": one.found.kind.value, "name": one.found.name, "of": one.found.of or None,
        "settings": [[label, text] for label, text in row.settings.items()] if row and private else [],
        "rank": row.rank if row else None, "front": bool(row and row.front == 1),
        "why": (row.why or None) if row and private else None, "kept": row.kept if row else True, "note": one.note,
        "match_gain_db": round(one.gain_db, 4), "true_peak_dbtp": _number(measured, "true_peak_dbtp"),
        "loudness_lufs": _number(measured, "loudness_lufs"),
        "channels": look.channels, "frames": look.frames, "offset_frames": 0, "audio": dict(audio(one)),
        "measurements": _measurements(measured, private), "reasons": _reasons(measured, private),
        "targets": targets_of(row, private) if row else [], "limits": limits_of(row, private) if row else [],
        "short_term": {"step_s": SHORT_TERM_STEP_S, "lufs": list(look.short_term_lufs)},
        "power_100ms": list(look.power_100ms),
        "waveform": {"columns": min(COLUMNS, look.frames), "low": list(look.low), "high": list(look.high)},
        "overs_s": list(look.overs_s), "attenuation": _attenuation(run, row),
        "thirds_difference_db": _against(one, untouched), "preview": _preview(one, mix),
        "playback": playback_data(measured),
    }  # fmt: skip


def _preview(one: Ready, mix: ReadyMix) -> dict[str, object] | None:
    if one.found.kind is not Kind.PREVIEW:
        return None
    variant = next(other for other in mix.sounds if other.found.id == one.found.of)
    return preview_data(one.file, variant.look.measured, one.look.measured)


def _number(measured: Measurements, key: str) -> float | None:
    value = measured[key]
    return None if value is None else round(value, 3)


def _measurements(measured: Measurements, private: bool) -> dict[str, float | None]:
    return {key: None if value is None else round(value, 4) for key, value in measured.values.items()
            if _is_told(key, private)}  # fmt: skip


def _reasons(measured: Measurements, private: bool) -> dict[str, str]:
    return {key: why for key, why in measured.reasons.items() if _is_told(key, private)}


def _is_told(key: str, private: bool) -> bool:
    """What a stage does goes by the stage's name, which is the engineer's own."""
    return find_quantity(key) is not None and (private or "." not in key)


def _against(one: Ready, mix: Ready | None) -> list[float | None] | None:
    """Thirds of an octave over the mix's, both equally loud; None for the mix, and for other music."""
    if mix is None or one.found.kind in (Kind.MIX, Kind.REFERENCE):
        return None
    import numpy as np

    louder_db = mix.gain_db - one.gain_db
    found = differences_db(np.asarray(mix.look.band_powers), np.asarray(one.look.band_powers), louder_db)
    return [None if value is None else round(value, 2) for value in found]


def _attenuation(run: Path, row: Row | None) -> dict[str, object] | None:
    """Of the whole chain over the passage that was looked into; None where it was not, or by an earlier version."""
    if row is None:
        return None
    try:
        inside = json.loads((run / "variants" / row.id / INSIDE_NAME).read_text("utf-8"))
        whole = next(seen["music"] for seen in inside["seen"] if seen["stage"] is None)
        if not whole or not whole.get("over_time_db"):
            return None
        lead_s = min(LEAD_S, (inside["to_s"] - inside["from_s"]) / 10)
        return {"from_s": round(inside["from_s"] + lead_s, 3), "step_s": OVER_TIME_S, "db": list(whole["over_time_db"])}
    except (OSError, ValueError, KeyError, TypeError, StopIteration):
        return None


def _all(row: Row, private: bool) -> dict[str, object]:
    measured = row.measurements
    return {"id": row.id, "mix": row.mix if private else Path(row.mix).name, "kept": row.kept, "front": row.front == 1,
            "rank": row.rank, "measurements": _measurements(measured, private) if measured else {}}  # fmt: skip


def _axes(chain_text: str, shown: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    """What is preferred, where two things are and both were measured; else what says most of dynamics."""
    try:
        wished = [wish.key for wish in preferences_in(chain_text, RUN_NAME)]
    except SweeperError:  # written for another version: the usual axes do
        wished = []
    there = {key for row in shown for key, value in row["measurements"].items() if value is not None}
    found = [key for key in dict.fromkeys((*wished, *USUAL_AXES, "tilt_db", "true_peak_dbtp")) if key in there]
    return {"x": found[0], "y": found[1]} if len(found) > 1 else {"x": USUAL_AXES[0], "y": USUAL_AXES[1]}


def _quantities(shown: Sequence[Mapping[str, Any]], sounds: Sequence[Ready]) -> list[dict[str, object]]:
    keys = dict.fromkeys(key for row in shown for key in row["measurements"])
    keys |= dict.fromkeys(key for one in sounds for key in one.look.measured.values)
    known = [found for key in keys if (found := find_quantity(key)) is not None]
    return [{"key": one.key, "name": one.name, "unit": one.unit, "decimals": one.decimals,
             "difference_unit": one.difference_unit} for one in known]  # fmt: skip
