"""Mappings, lists and single values out of nodes, with a fault where one stands for another."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from unicodedata import category

from sweeper.chain.document import Node
from sweeper.chain.faults import KEEP_ONE, Faults
from sweeper.chain.keys import KEYS, NOT_BUILT, PLACE_NAMES
from sweeper.chain.model import Mark
from sweeper.chain.nearest import nearest, quoted, suggestion


@dataclass(frozen=True)
class Field:
    """One entry of a mapping. mark: where its name stands."""

    name: str
    value: Node
    mark: Mark


def folded(name: str) -> str:
    """A name as names are compared: case and runs of spaces forgiven."""
    return " ".join(name.split()).casefold()


def entries(node: Node, what: str, faults: Faults) -> tuple[Field, ...]:
    """The entries of a mapping with free names; a name that stands twice is a fault."""
    pairs = node.pairs
    if pairs is None:
        if not node.empty:
            faults.add(node.mark, f"{what} is {node.kind}, not a mapping", "write NAME: VALUE, one a line")
        return ()
    found: dict[str, Field] = {}
    for key, value in pairs:
        name = key.text
        if name is None or not name.strip():
            faults.add(key.mark, f"a name in {what} is {key.kind if name is None else 'empty'}",
                       "write a name before the ':'")
        elif folded(name) in found:
            first = found[folded(name)]
            faults.add(key.mark, f"{quoted(name)} stands twice; first on line {first.mark.line}", KEEP_ONE)
        else:
            found[folded(name)] = Field(" ".join(name.split()), value, key.mark)
    return tuple(found.values())


def fields(
    node: Node, place: str, what: str, faults: Faults, also: tuple[str, ...] = ()
) -> Mapping[str, Field]:
    """The entries of a mapping whose names are those of `keys.KEYS[place]` and `also`.

    A misspelt one is a fault and is read all the same, so that nothing seems to be missing.
    """
    known: dict[str, Field] = {}
    meant: dict[str, Field] = {}
    for field in entries(node, what, faults):
        if field.name in KEYS[place] or field.name in also:
            known[field.name] = field
        elif field.name in NOT_BUILT[place]:
            faults.not_built(field.mark, quoted(field.name), NOT_BUILT[place][field.name])
            known[field.name] = field
        else:
            faults.add(field.mark, f"unknown key {quoted(field.name)}{PLACE_NAMES[place]}",
                       suggestion(field.name, KEYS[place]))
            meant[nearest(field.name, KEYS[place]) or field.name] = field
    return {**{name: Field(name, field.value, field.mark) for name, field in meant.items()}, **known}


def listed(node: Node, what: str, faults: Faults) -> tuple[Node, ...]:
    """The entries of a list; one entry may stand alone, and nothing at all is an empty list."""
    if node.items is None:
        return () if node.empty else (node,)
    for item in node.items:
        if item.empty:
            faults.add(item.mark, f"{what} has an empty entry", "fill it in or take it out")
    return tuple(item for item in node.items if not item.empty)


def single(node: Node, what: str, faults: Faults, remedy: str = "write one value") -> str | None:
    """The text of a single value; None with a fault for a list, a mapping or nothing."""
    text = node.text
    if text is None:
        faults.add(node.mark, f"{what} is {node.kind}, not a single value", remedy)
    elif node.empty or not text.strip():
        faults.add(node.mark, f"{what} has no value", "write one, or take the line out")
    elif any(category(character) in ("Cc", "Cs", "Zl", "Zp") for character in text):
        faults.add(node.mark, f"{what} holds a character that cannot be shown", "delete it")
    else:
        return text.strip()
    return None
