"""`buses`: parallel ways from the last insert to the output stages, each at its own level."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from sweeper.chain.document import Node
from sweeper.chain.faults import Faults
from sweeper.chain.model import Channels, Handle, Stage
from sweeper.chain.own_settings import LEVEL_RANGE
from sweeper.chain.shapes import Field, fields, listed, single
from sweeper.chain.stages import check_name, read_stages
from sweeper.chain.values import read_amount, read_switch

LEVEL = "level"
EXAMPLE = "write e.g. {name: lift, level: -12 dB, inserts: [{plugin: NAME}]}"


def read_buses(node: Node, folder: Path, faults: Faults) -> tuple[Stage, ...]:
    """The stages of every bus, one bus after the other, each ending with its fader.

    Faulty ones come back too, so that names stay known.
    """
    return tuple(stage for item in listed(node, "buses", faults) for stage in _bus(item, folder, faults))


def _bus(node: Node, folder: Path, faults: Faults) -> tuple[Stage, ...]:
    if node.pairs is None:
        faults.add(node.mark, f"a bus is {node.kind}, not a mapping", EXAMPLE)
        return (_fader("", {}, node, faults),)
    known = fields(node, "bus", "a bus", faults)
    name = _name(node, known, faults)
    inserts = read_stages(known["inserts"].value, False, folder, faults, bus=name or "?") if "inserts" in known else ()
    if not inserts:
        faults.add(known["inserts"].mark if "inserts" in known else node.mark, "this bus has no inserts",
                   "add inserts: [{plugin: NAME}]; without any it would only be more of the same")
    return (*inserts, _fader(name, known, node, faults))


def _name(node: Node, known: Mapping[str, Field], faults: Faults) -> str:
    if "name" not in known:
        faults.add(node.mark, "this bus has no name", "add e.g. name: lift")
        return ""
    name = single(known["name"].value, "name", faults) or ""
    check_name(name, "the bus's name", known["name"].value.mark, "write it without dots", faults)
    return name


def _fader(name: str, known: Mapping[str, Field], node: Node, faults: Faults) -> Stage:
    """The bus's level as a stage of the bus's name."""
    mark = known["name"].value.mark if "name" in known else node.mark
    level = known.get(LEVEL)
    return Stage(
        name=name, plugin="", state=None, channels=Channels.STEREO, settings=(),
        handles=(Handle(LEVEL, "raise", "output trim", level.mark if level else mark),),
        input_trim_db=0.0, output_trim_db=_level_db(level, faults) if level else 0.0,
        bypass="bypass" in known and bool(read_switch(known["bypass"].value, "bypass", faults)),
        output=False, mark=mark, plugin_mark=mark, bus=name or "?", is_fader=True,
    )  # fmt: skip


def _level_db(field: Field, faults: Faults) -> float:
    value = read_amount(field.value, LEVEL, "dB", faults)
    if value is not None and not LEVEL_RANGE.low <= value <= LEVEL_RANGE.high:
        faults.add(field.value.mark, f"level of {value:g} dB is beyond reason",
                   f"write {LEVEL_RANGE.low:g} dB to {LEVEL_RANGE.high:g} dB")
        return 0.0
    return value or 0.0
