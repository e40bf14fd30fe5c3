"""A recall sheet as a chain file: every setting where it stood, to run again or to go on from."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from sweeper.audio.placing import place_text
from sweeper.chain.model import Channels
from sweeper.chain.template import note_text, yaml_text
from sweeper.errors import PluginMissing
from sweeper.host.builtin_table import PREFIX
from sweeper.host.catalogue import find
from sweeper.host.place import joined, parted
from sweeper.host.setup import plugin_word
from sweeper.recall.asked import Asked
from sweeper.recall.find import Found
from sweeper.recall.mix import same_music
from sweeper.recall.orders import StandingOrder
from sweeper.recall.ride_lines import per_cent, ride_lines
from sweeper.recall.setups import SetUp, set_up
from sweeper.recall.tasks import put_back
from sweeper.records import Applied, Sheet, StageRecord
from sweeper.render.folder import slug
from sweeper.workers import Pool


def default_target(sheet: Sheet) -> Path:
    """TITLE-VARIANT.chain.yaml in the working folder."""
    return Path(f"{slug(sheet.title)}-{sheet.variant}.chain.yaml")


def as_chain(found: Found, asked: Asked, target: Path) -> Path:
    """Write the sheet's settings as a chain file to `target`, never over another; returns it.

    Plugins need not be there; they are loaded only where a state file is lost. Raises AudioFileError when the mix is
    not the same music, SheetError, PluginError, RunFolderError.
    """
    stages = set_up(found, asked.results)
    with Pool(1, asked.watch) as pool:
        mix = same_music(found.sheet.source, found.run, asked.mix, pool).file
        if any(stage.state_lost and not stage.missing for stage in stages):
            order = StandingOrder(tuple(s.setup for s in stages), tuple(map(_lost, stages)), mix.format,
                                  found.sheet.block_frames, asked.patience_s)  # fmt: skip
            taken = put_back(order, pool).taken
            stages = tuple(replace(s, record=_all_set(s.record, more)) for s, more in zip(stages, taken, strict=True))
    text = chain_text(found, stages, seen_from(mix.path, target), target)
    place_text(target, text, "name another file with --to")
    return target


def _lost(stage: SetUp) -> tuple[Applied, ...]:
    """The controls whose places only a state file told that is lost."""
    return stage.record.standing if stage.state_lost and not stage.missing else ()


def _all_set(record: StageRecord, more: tuple[Applied, ...]) -> StageRecord:
    return replace(record, settings=record.settings + more,
                   standing=tuple(one for one in record.standing if one not in more))  # fmt: skip


def chain_text(found: Found, stages: tuple[SetUp, ...], mix: str, target: Path) -> str:
    """The chain file's text. mix: as to be written."""
    sheet = found.sheet
    lines = [f"# Variant {note_text(sheet.variant)} of {note_text(sheet.title)}, every setting where it stood.",
             f"# From the recall sheet {note_text(str(found.place))}" + (f", {sheet.created}" if sheet.created else ""),
             f"title: {yaml_text(sheet.title)}", f"mix: {yaml_text(mix)}"]  # fmt: skip
    inserts = [stage for stage in stages if not stage.record.output and not stage.record.bus]
    lines += _part("inserts", (line for stage in inserts for line in _stage(stage, target)))
    lines += _part("buses", _buses([stage for stage in stages if stage.record.bus], target))
    output = [stage for stage in stages if stage.record.output]
    lines += _part("output", (line for stage in output for line in _stage(stage, target)))
    lines += _part("rides", (line for stage in stages for line in ride_lines(stage.record)))
    return "\n".join(lines) + "\n"


def _part(heading: str, lines: Iterable[str]) -> list[str]:
    """A part of the file with its heading; nothing where it is empty."""
    found = list(lines)
    return ["", f"{heading}:", *found] if found else []


def _buses(stages: Sequence[SetUp], target: Path) -> Iterator[str]:
    for fader in stages:
        if not fader.record.is_fader:
            continue
        yield f"  - name: {yaml_text(fader.record.name)}"
        yield f"    level: {fader.record.output_trim_db!r} dB"
        if fader.record.bypass:
            yield "    bypass: on"
        yield "    inserts:"
        for stage in stages:
            if stage.record.bus == fader.record.bus and stage is not fader:
                yield from (f"    {line}" for line in _stage(stage, target))


def seen_from(file: Path, target: Path) -> str:
    """A file as seen from the chain file's folder, with forward slashes; absolute when it is on another drive."""
    try:
        return Path(os.path.relpath(file.absolute(), target.absolute().parent)).as_posix()
    except ValueError:
        return file.absolute().as_posix()


def _stage(stage: SetUp, target: Path) -> Iterator[str]:
    record, setup = stage.record, stage.setup
    version = f"   # version {note_text(record.version)}" if record.version else ""
    yield f"  - name: {yaml_text(record.name)}"
    yield f"    outside: {yaml_text(record.outside)}" if record.outside else (
        f"    plugin: {yaml_text(_plugin(stage))}{version}")  # fmt: skip
    for came in record.returned:
        folder = Path(came.file).parent
        gone = "" if folder.is_dir() else "# not there any more: "
        yield f"    {gone}returned: {yaml_text(seen_from(folder, target))}   # {note_text(Path(came.file).name)}"
        yield "    # A run of this file sends it out anew; what came back then is taken by `sweeper recall` alone."
    if stage.missing:
        yield f"    # not installed here: {note_text(stage.missing)}"
    if setup.channels is not Channels.STEREO:
        yield f"    channels: {setup.channels.value}"
    if setup.state is not None:
        yield f"    state: {yaml_text(seen_from(setup.state, target))}"
    if stage.state_lost:
        yield f"    # {note_text(stage.note)}"
    for name, trim_db in (("input trim", record.input_trim_db), ("output trim", record.output_trim_db)):
        if trim_db:
            yield f"    {name}: {trim_db!r} dB"
    if record.blend != 1:
        yield f"    blend: {per_cent(record.blend)} %"
    if record.inverted:
        yield "    polarity: inverted"
    if record.latency:
        yield f"    latency: {record.latency}"
    if record.tail_s:
        yield f"    tail: {record.tail_s!r} s"
    if record.instances:
        yield f"    instances: {record.instances}"
    if record.bypass:
        yield "    bypass: on"
    yield from _settings(stage)


def _plugin(stage: SetUp) -> str:
    """The plugin's name where that leads to its file, else the file."""
    path = stage.setup.path
    if path.startswith(PREFIX) or stage.missing:
        return plugin_word(path)
    for name in (stage.record.plugin, plugin_word(path)):
        try:
            if find(name, Path.cwd()) == path:
                return name
        except PluginMissing:
            continue
    file, inner = parted(path)
    return joined(Path(file).as_posix(), inner)


def _settings(stage: SetUp) -> Iterator[str]:
    """The settings made, one a line; what nobody set as notes, but for a stage whose state is lost."""
    made = stage.record.settings
    exact = not stage.setup.path.startswith(PREFIX)
    if made:
        yield "    settings:"
        sides = list(dict.fromkeys(one.side for one in made))
        for side in sides:
            if side:
                yield f"      {side}:"
            indent = " " * (8 if side else 6)
            yield from (f"{indent}{_setting(one, exact)}" for one in made if one.side == side)
    for one in stage.record.standing:
        yield f"    # left alone: {' '.join(part for part in (one.side, _setting(one, exact)) if part)}"


def _setting(one: Applied, is_32_bit: bool) -> str:
    return f"{yaml_text(one.name)}: {travel(one.raw, is_32_bit)} % travel   # {note_text(one.text)}"


def travel(raw: float, is_32_bit: bool) -> str:
    """A position, 0.0 to 1.0, in per cent, with as many digits as it takes to come back to it.

    is_32_bit: the position is a 32-bit float, as those of VST3 and AU plugins are in the hosting library.
    """
    for digits in range(3, 18):
        text = f"{raw * 100:.{digits}g}"
        if _same(float(text) / 100, raw, is_32_bit and float(np.float32(raw)) == raw):
            return text
    return repr(raw * 100)


def _same(one: float, other: float, is_32_bit: bool) -> bool:
    if is_32_bit:
        return bool(np.float32(one) == np.float32(other))
    return abs(one - other) <= 2.0**-52 * other
