"""The stages of a chain and their names."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from sweeper.chain.any_of import read_any_of
from sweeper.chain.document import Node
from sweeper.chain.faults import Faults
from sweeper.chain.model import Channels, Mark, Ride, Stage
from sweeper.chain.nearest import quoted
from sweeper.chain.outside import outside_text, read_outside, refuse_returned
from sweeper.chain.processor import plugin_text, read_processor, short_name
from sweeper.chain.shapes import Field, fields, folded, listed, single
from sweeper.chain.values import read_switch

SEQUENCE = "sequence"
RIDES = "rides"


@dataclass(frozen=True)
class StageNames:
    """The stages by folded name, the rides by theirs. complete: every stage that could be named is there.

    rides: None for one that is faulty. rides_complete: every ride that could be named is there.
    """

    stages: Mapping[str, Stage]
    complete: bool
    rides: Mapping[str, Ride | None] = field(default_factory=dict)
    rides_complete: bool = True


def read_stages(node: Node, output: bool, folder: Path, faults: Faults, bus: str = "") -> tuple[Stage, ...]:
    """Every stage of `inserts` or `output`. Faulty ones come back too, so that names stay known.

    bus: the name of the bus whose inserts they are.
    """
    what = "output" if output else "inserts"
    return tuple(_stage(item, output, bus, folder, faults) for item in listed(node, what, faults))


def stage_names(stages: tuple[Stage, ...], faults: Faults) -> StageNames:
    """The stages by name; two of the same name are a fault."""
    found: dict[str, Stage] = {}
    for stage in stages:
        if not stage.name:
            continue
        first = found.setdefault(folded(stage.name), stage)
        if first is not stage:
            what = f"two stages are called {quoted(stage.name)}; first on line {first.mark.line}"
            faults.add(stage.mark, what, "give one of them another 'name:'")
    return StageNames(found, all(stage.name for stage in stages))


def _stage(node: Node, output: bool, bus: str, folder: Path, faults: Faults) -> Stage:
    bare = Stage("", "", None, Channels.STEREO, (), (), 0.0, 0.0, False, output, node.mark, node.mark, bus=bus)
    if node.pairs is None:
        remedy = "write plugin: NAME, and its settings below that"
        faults.add(node.mark, f"a stage is {node.kind}, not a mapping", remedy)
        return bare
    known = fields(node, "stage", "a stage", faults)
    bare = replace(
        bare,
        name=_name(node, known, faults),
        bypass="bypass" in known and bool(read_switch(known["bypass"].value, "bypass", faults)),
        mark=known["name"].value.mark if "name" in known else node.mark,
    )
    if "outside" in known:
        return read_outside(known, bare, folder, faults)
    refuse_returned(known, faults)
    if "any of" in known:
        return read_any_of(known, bare, folder, faults)
    return read_processor(node, known, bare, folder, faults)


def _name(node: Node, known: Mapping[str, Field], faults: Faults) -> str:
    """The stage's name; without one, the plugin's in small letters: "builtin:Compressor" is "compressor"."""
    if "name" in known:
        mark = known["name"].value.mark
        name = single(known["name"].value, "name", faults) or ""
    else:
        mark, name = node.mark, short_name(outside_text(known, faults) or plugin_text(known, faults)).lower()
        if "any of" in known and not name:
            faults.add(mark, "this stage has alternatives and no name", "add e.g. name: colour")
    remedy = "write it without dots" if "name" in known else "add a 'name:' without dots"
    check_name(name, "the stage's name", mark, remedy, faults)
    if "any of" in known and folded(name) == SEQUENCE:
        faults.add(mark, f"a stage with alternatives is called {quoted(name)}, which means the order of the inserts",
                   "give it another 'name:'")
    return name


def check_name(name: str, what: str, mark: Mark, remedy: str, faults: Faults) -> None:
    """A name without dots, and not the word before a ride's. remedy: against dots."""
    if "." in name:
        faults.add(mark, f"{what} {quoted(name)} has a dot in it", remedy)
    if folded(name) == RIDES:
        faults.add(mark, f"{what} is {quoted(name)}, which means the rides", "give it another 'name:'")
