"""The recall sheet for people: one page that says how a master was made, to print and to keep in a folder."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from sweeper.audio.placing import place_text
from sweeper.chain.model import BLEND
from sweeper.quantities import QUANTITIES, Measurements, find_quantity
from sweeper.recall.by_sound import RENDER_NAME
from sweeper.recall.find import Found
from sweeper.recall.mix import place_of
from sweeper.recall.notes import Pick, pick_of
from sweeper.recall.prints import prints_of
from sweeper.records import Applied, RideRecord, Sheet, StageRecord
from sweeper.render.finalists import INSIDE_NAME, with_inside
from sweeper.render.inside import Inside
from sweeper.units import clock, folded

TEMPLATE = "page.html"
#: What stands in large figures at the head.
HEAD = ("loudness_lufs", "true_peak_dbtp", "loudness_range_lu", "plr_db")


@dataclass(frozen=True)
class Row:
    """One setting, with its text on each side that the stage has. asked: as it was written, where that says more."""

    name: str
    texts: tuple[str, ...]
    handle: str = ""
    asked: tuple[str, ...] = ()


@dataclass(frozen=True)
class StagePlate:
    """One stage as the page shows it. facts: (name, text) of everything that is no control. sides: headings, ("",) for
    one instance. made: what the chain file or the solver set; left: every other control as it stood.
    """

    number: int
    name: str
    plugin: str
    place: str
    bypass: bool
    facts: tuple[tuple[str, str], ...]
    sides: tuple[str, ...]
    made: tuple[Row, ...]
    left: tuple[Row, ...]
    rides: tuple[str, ...]


def write_page(found: Found, target: Path) -> Path:
    """Write the page of a sheet to `target`, never over another file. Raises RunFolderError."""
    place_text(target, page(found), "name another file with --page")
    return target


def page(found: Found) -> str:
    """The page as HTML in UTF-8, in one file that needs nothing else."""
    from jinja2 import Environment, StrictUndefined

    template = files("sweeper.recall").joinpath(TEMPLATE).read_text("utf-8")
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    text: str = environment.from_string(template).render(page_data(found))
    return text


def page_data(found: Found) -> dict[str, Any]:
    """Everything that the page shows, as text."""
    sheet = found.sheet
    measured = _measured(found)
    return {
        "title": sheet.title, "variant": sheet.variant, "created": sheet.created.replace("T", " ")[:16],
        "change": sheet.change, "parent": sheet.parent, "id": sheet.id,
        "head": [meter for key in HEAD for meter in _meters(measured, [key])],
        "meters": list(_meters(measured, [q.key for q in QUANTITIES if q.key not in HEAD])),
        "inside": list(_meters(measured, [key for key in measured.values if "." in key])),
        "sections": [(name, [m for key in HEAD for m in _meters(part, [key])])
                     for name, part in measured.sections.items()],
        "reach": [_reach(each) for each in sheet.reach], "stages": list(plates(sheet)),
        "files": list(_files(found)), "notes": sheet.notes, "pick": _pick(pick_of(found.run, sheet.variant)),
        "versions": [(name, value) for name, value in sheet.versions.items()], "sheet": _plain(found.place),
        "work": f"{sheet.passes} full render{'s' * (sheet.passes != 1)}, blocks of {sheet.block_frames} frames",
    }  # fmt: skip


def _measured(found: Found) -> Measurements:
    """What the sheet holds, and what the run found when it looked into the stages of its best."""
    measured = Measurements.from_data(found.sheet.measurements)
    try:
        inside = Inside.from_data(json.loads(found.place.with_name(INSIDE_NAME).read_text("utf-8")))
    except (OSError, ValueError, KeyError, TypeError):  # it was not looked into, or by another version
        return measured
    return with_inside(measured, inside)


def plates(sheet: Sheet) -> Iterator[StagePlate]:
    """Every stage in the order of the sound, bypassed ones too."""
    for number, record in enumerate(sheet.stages, 1):
        sides = tuple(dict.fromkeys(a.side for a in (*record.settings, *record.standing))) or ("",)
        where = "output" if record.output else f"bus {record.bus}" if record.bus else "insert"
        yield StagePlate(number, record.name, _plugin(record), where, record.bypass, tuple(_facts(record)), sides,
                         _rows(record.settings, sides, record), _rows(record.standing, sides, record),
                         tuple(map(_ride, record.rides)))  # fmt: skip


def _plugin(record: StageRecord) -> str:
    if record.outside:
        return f"outside: {record.outside}"
    return "level of the bus" if record.is_fader else record.plugin


def _facts(record: StageRecord) -> Iterator[tuple[str, str]]:
    """What is to be known of a stage beside its controls; what stands where it usually stands is left out."""
    builtin = record.path.startswith("builtin:")
    yield from ((name, value) for name, value in (
        ("maker", record.maker), ("version", "" if builtin else record.version),
        ("channels", "" if record.channels == "stereo" else record.channels),
        ("state", Path(record.state_file).name if record.state_file else ""),
        ("input trim", _db(record.input_trim_db)), ("output trim", _db(record.output_trim_db)),
        (BLEND, "" if record.blend == 1 else f"{100 * record.blend:.4g} %"),
        ("polarity", "inverted" if record.inverted else ""), ("delay as written", record.latency),
        ("delay", f"{record.latency_frames} frames" if record.latency_frames else ""),
        ("tail", f"{record.tail_s:g} s" if record.tail_s else ""),
        ("came back as", ", ".join(Path(came.file).name for came in record.returned)),
        ("rendered twice", record.repeats), ("code", record.program_sha256[:12]),
    ) if value)  # fmt: skip


def _db(level_db: float) -> str:
    return f"{level_db:+.2f} dB" if level_db else ""


def _rows(applied: Sequence[Applied], sides: tuple[str, ...], record: StageRecord) -> tuple[Row, ...]:
    """One row a control; of two controls with one name, two rows."""
    handles = {handle.setting.lower(): handle.name for handle in record.handles}
    rows: dict[tuple[int, str], dict[str, Applied]] = {}
    for one in applied:
        rows.setdefault((one.index, one.name), {})[one.side] = one
    return tuple(Row(name, tuple(_text(on.get(side)) for side in sides), handles.get(name.lower(), ""),
                     tuple(_asked(on.get(side)) for side in sides)) for (_, name), on in rows.items())  # fmt: skip


def _text(one: Applied | None) -> str:
    return "" if one is None else one.text or f"{100 * one.raw:.4g} % travel"


def _asked(one: Applied | None) -> str:
    """What was written; where the plugin shows no unit it has one."""
    return "" if one is None or folded(one.asked) == folded(one.text) else one.asked


def _ride(ride: RideRecord) -> str:
    spans = ", ".join(f"{clock(span[0])} to {clock(span[1])}" for span in ride.spans_s)
    side = f"{ride.side} " if ride.side else ""
    word = "by" if ride.relative else "to"
    return f"{ride.name}: {side}{ride.setting} {word} {ride.amount} in {spans}, ramp {1000 * ride.ramp_s:g} ms"


def _meters(measured: Measurements, keys: Sequence[str]) -> Iterator[tuple[str, str, str]]:
    """Name, value and unit of what was measured; why, in place of the value, of what does not exist."""
    for key in keys:
        quantity = find_quantity(key)
        if quantity is None or key not in measured.values:
            continue
        value = measured[key]
        if value is None:
            yield quantity.name, "-", measured.reasons.get(key, "")
        else:
            yield quantity.name, f"{round(value, quantity.decimals) + 0.0:.{quantity.decimals}f}", quantity.unit


def _reach(reach: Mapping[str, Any]) -> str:
    quantity = find_quantity(str(reach.get("measurement", "")))
    if quantity is None:
        return ""
    value, at = reach.get("value"), reach.get("at")
    got = "none" if value is None else f"{value:.{quantity.decimals}f} {quantity.unit}".strip()
    where = f"{reach.get('setting')} at {at:.4g} {reach.get('unit') or ''}".strip() if at is not None else ""
    goal = f"{quantity.name} {reach.get('goal'):g} {quantity.unit}".strip()
    why = f" ({reach['why']})" if reach.get("why") else ""
    return f"{goal}: {got}, {reach.get('ending')}{why}; {where}"


def _files(found: Found) -> Iterator[tuple[str, str]]:
    """What belongs to the master, and where it lies now."""
    sheet, source = found.sheet, found.sheet.source
    length = clock(source.frames / source.rate_hz)
    kind = {1: "mono", 2: "stereo"}.get(source.channels, f"{source.channels} channels")
    yield "mix", f"{_plain(place_of(source, found.run))} ({length}, {source.rate_hz} Hz, {kind})"
    yield "mix, sound", f"SHA-256 {source.audio_sha256}"
    render = found.place.absolute().parent / RENDER_NAME
    yield "render", _plain(render) if render.is_file() else "not kept: `sweeper recall` makes it again"
    yield "render, sound", f"SHA-256 {sheet.audio_sha256}"
    for name in prints_of(found.run, sheet.variant):
        yield "printed", name


def _plain(path: Path) -> str:
    """A path without steps back and forth."""
    return os.path.abspath(path)  # noqa: PTH100 - a link stays a link


def _pick(pick: Pick | None) -> dict[str, Any] | None:
    if pick is None:
        return None
    notes = [("" if note.at_s is None else clock(note.at_s), note.text) for note in pick.notes]
    return {"verdict": pick.verdict, "notes": notes, "trials": list(pick.trials)}
