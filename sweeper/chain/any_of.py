"""`any of`: the processors that can stand in one place of the chain."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from sweeper.chain.document import Node
from sweeper.chain.faults import Faults
from sweeper.chain.model import Stage
from sweeper.chain.nearest import quoted
from sweeper.chain.processor import plugin_text, read_processor, read_signal, short_name
from sweeper.chain.shapes import Field, fields, folded, listed, single

#: Keys that only one processor can mean.
OF_ONE = ("plugin", "state", "settings", "drive", "ceiling", "polarity", "latency")
EXAMPLE = "write e.g. any of: [{plugin: A}, {plugin: B}]"


def read_any_of(known: Mapping[str, Field], bare: Stage, folder: Path, faults: Faults) -> Stage:
    """The stage `bare` with its alternatives; what stands beside `any of` holds where one says nothing else."""
    field = known["any of"]
    for name in OF_ONE:
        if name in known:
            faults.add(known[name].mark, f"'{name}' stands beside 'any of'",
                       "move it into the alternative that it is for")
    stage = replace(read_signal(known, bare, faults), plugin_mark=field.mark)
    items = listed(field.value, "any of", faults)
    if len(items) < 2:
        what = "names one alternative" if items else "names no alternative"
        faults.add(field.mark, f"'any of' {what}", f"{EXAMPLE}, or take 'any of' out")
    alternatives = tuple(_alternative(item, stage, folder, faults) for item in items)
    _labelled_apart(alternatives, faults)
    return replace(stage, alternatives=alternatives)


def _alternative(node: Node, stage: Stage, folder: Path, faults: Faults) -> Stage:
    if node.pairs is None:
        faults.add(node.mark, f"an alternative is {node.kind}, not a mapping", EXAMPLE)
        return stage
    known = fields(node, "alternative", "an alternative", faults, ("any of", "bypass", "outside"))
    if "outside" in known:
        faults.add(known["outside"].mark, "'outside' stands inside 'any of'",
                   "give what stands outside a stage of its own; its bypass can be varied")
        return replace(stage, label="?")
    if "any of" in known:
        faults.add(known["any of"].mark, "'any of' stands inside 'any of'", "list all alternatives in the outer one")
    if "bypass" in known:
        faults.add(known["bypass"].mark, "'bypass' belongs to the whole stage, not to one alternative",
                   "write it beside 'any of'")
    named = single(known["name"].value, "name", faults) if "name" in known else None
    label = named or short_name(plugin_text(known, faults)) or "?"
    mark = known["name"].value.mark if "name" in known else node.mark
    return read_processor(node, known, replace(stage, label=label, mark=mark), folder, faults)


def _labelled_apart(alternatives: tuple[Stage, ...], faults: Faults) -> None:
    """Two alternatives of one label are a fault: the table could not tell them apart."""
    met: dict[str, Stage] = {}
    for one in alternatives:
        first = met.setdefault(folded(one.label), one)
        if first is not one and one.plugin and first.plugin:
            what = f"two alternatives of {quoted(one.name)} are called {quoted(one.label)}"
            faults.add(one.mark, f"{what}; first on line {first.mark.line}", "give each a name:")
