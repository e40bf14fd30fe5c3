"""The stages of a chain and their names."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from sweeper.chain.any_of import read_any_of
from sweeper.chain.document import Node
from sweeper.chain.faults import Faults
from sweeper.chain.model import Channels, Stage
from sweeper.chain.nearest import quoted
from sweeper.chain.processor import plugin_text, read_processor, short_name
from sweeper.chain.shapes import Field, fields, folded, listed, single
from sweeper.chain.values import read_switch

SEQUENCE = "sequence"


@dataclass(frozen=True)
class StageNames:
    """The stages by folded name. complete: every stage that could be named is there."""

    stages: Mapping[str, Stage]
    complete: bool


def read_stages(node: Node, output: bool, folder: Path, faults: Faults) -> tuple[Stage, ...]:
    """Every stage of `inserts` or `output`. Faulty ones come back too, so that names stay known."""
    what = "output" if output else "inserts"
    return tuple(_stage(item, output, folder, faults) for item in listed(node, what, faults))


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


def _stage(node: Node, output: bool, folder: Path, faults: Faults) -> Stage:
    bare = Stage("", "", None, Channels.STEREO, (), (), 0.0, 0.0, False, output, node.mark, node.mark)
    if node.pairs is None:
        remedy = "write plugin: NAME, and its settings below that"
        faults.add(node.mark, f"a stage is {node.kind}, not a mapping", remedy)
        return bare
    known = fields(node, "stage", "a stage", faults)
    bare = Stage(
        name=_name(node, known, faults),
        plugin="", state=None, channels=Channels.STEREO, settings=(), handles=(), input_trim_db=0.0, output_trim_db=0.0,
        bypass="bypass" in known and bool(read_switch(known["bypass"].value, "bypass", faults)),
        output=output,
        mark=known["name"].value.mark if "name" in known else node.mark,
        plugin_mark=node.mark,
    )  # fmt: skip
    if "any of" in known:
        return read_any_of(known, bare, folder, faults)
    return read_processor(node, known, bare, folder, faults)


def _name(node: Node, known: Mapping[str, Field], faults: Faults) -> str:
    """The stage's name; without one, the plugin's in small letters: "builtin:Compressor" is "compressor"."""
    if "name" in known:
        mark = known["name"].value.mark
        name = single(known["name"].value, "name", faults) or ""
    else:
        mark, name = node.mark, short_name(plugin_text(known, faults)).lower()
        if "any of" in known and not name:
            faults.add(mark, "this stage has alternatives and no name", "add e.g. name: colour")
    if "." in name:
        remedy = "write it without dots" if "name" in known else "add a 'name:' without dots"
        faults.add(mark, f"the stage's name {quoted(name)} has a dot in it", remedy)
    if "any of" in known and folded(name) == SEQUENCE:
        faults.add(mark, f"a stage with alternatives is called {quoted(name)}, which means the order of the inserts",
                   "give it another 'name:'")
    return name
