"""The `settings:` of a stage: flat, or for each side."""

from __future__ import annotations

from sweeper.chain.document import Node
from sweeper.chain.faults import KEEP_ONE, Faults
from sweeper.chain.model import TRIMS, Assignment, Channels
from sweeper.chain.nearest import quoted
from sweeper.chain.shapes import Field, entries, folded
from sweeper.chain.values import read_value

#: Every side that some kind of channels has.
SIDES = tuple(side for channels in (Channels.LEFT_RIGHT, Channels.MID_SIDE) for side in channels.sides)


def read_settings(
    node: Node, channels: Channels, faults: Faults
) -> tuple[tuple[Assignment, ...], dict[str, Field]]:
    """What the plugin is set to, and the trims found among it by name."""
    found: list[Assignment] = []
    trims: dict[str, Field] = {}
    for field in entries(node, "settings", faults):
        side = folded(field.name)
        if field.value.pairs is not None and side in SIDES:
            found += _side(field, side, channels, faults)
        elif side in TRIMS:
            trims[side] = Field(side, field.value, field.mark)
        else:
            found += _assigned(field, "", faults)
    return _once_each(found, faults), trims


def _side(field: Field, side: str, channels: Channels, faults: Faults) -> list[Assignment]:
    """The settings of one side."""
    if side not in channels.sides:
        faults.add(field.mark, f"this stage has no '{side}': its channels are {channels.value}",
                   f"add channels: {'left/right' if side in ('left', 'right') else 'mid/side'}")
        return []
    found: list[Assignment] = []
    for inner in entries(field.value, f"'{side}'", faults):
        if folded(inner.name) in TRIMS:
            faults.add(inner.mark, f"{quoted(inner.name)} belongs to the whole stage, not to one side",
                       "write it beside 'settings'")
        else:
            found += _assigned(inner, side, faults)
    return found


def _assigned(field: Field, side: str, faults: Faults) -> list[Assignment]:
    value = read_value(field.value, field.name, faults)
    return [] if value is None else [Assignment(field.name, value, side, field.mark)]


def _once_each(found: list[Assignment], faults: Faults) -> tuple[Assignment, ...]:
    """The assignments; one for every side and one for a single side must not share a name."""
    everywhere = {folded(each.name): each for each in found if not each.side}
    for each in found:
        first = everywhere.get(folded(each.name))
        if each.side and first is not None:
            what = f"{quoted(each.name)} is set for every side on line {first.mark.line} already"
            faults.add(each.mark, what, KEEP_ONE)
    return tuple(found)
