"""Delivery targets by name: as a goal, and as the bounds that `meets NAME` stands for."""

from __future__ import annotations

import re

from sweeper.chain.document import Node
from sweeper.chain.faults import Faults
from sweeper.chain.model import Condition, Mark
from sweeper.chain.nearest import nearest, quoted, suggestion
from sweeper.quantities import BY_KEY, Quantity
from sweeper.targets import BY_ID, DELIVERY, Kind, Target, requirements
from sweeper.units import parse_amount

MEETS = re.compile(r"meets\s+(.+)", re.IGNORECASE)
#: Behind a bound: whose it is.
OF_TARGET = re.compile(r"(.+?)\s*\(([^()]+)\)")


def read_target(name: str, mark: Mark | None, faults: Faults) -> Target | None:
    """The delivery target of that name, case forgiven; None with a fault when there is none."""
    target = BY_ID.get(name.strip().casefold())
    if target is None:
        faults.add(mark, f"no delivery target is called {quoted(name)}", suggestion(name, DELIVERY))
        return None
    if target.kind is Kind.PLAYBACK:
        faults.add(mark, f"'{target.id}' is what players turn files to ({target.document}, {target.kind.value}): "
                   "no master has to be delivered at it", "`sweeper measure FILE --playback` shows what it does to a "
                   f"master; to deliver: {', '.join(DELIVERY)}")  # fmt: skip
        return None
    return target


def names_target(goal: str, quantity: Quantity) -> bool:
    """Whether a goal is a target's name, or nearly one, and no number."""
    return quantity.key == "loudness_lufs" and parse_amount(goal) is None and nearest(goal, BY_ID) is not None


def target_within(node: Node, quantity: Quantity) -> float | None:
    """The tolerance of the target that a goal names, the tighter side of it; None where it names none."""
    target = BY_ID.get((node.text or "").strip().casefold())
    if target is None or not names_target(target.id, quantity):
        return None
    return min((side for side in (target.below_lu, target.above_lu) if side is not None), default=None)


def conditions_of(target: Target, mark: Mark) -> tuple[Condition, ...]:
    """The target's requirements as bounds; the text of each can be read back."""
    bounds = []
    for one in requirements(target):
        quantity = BY_KEY[one.key]
        for relation, value in ((">=", one.lowest), ("<=", one.highest)):
            if value is not None:
                text = f"{quantity.name} {relation} {value:g} {quantity.unit} ({target.id})"
                bounds.append(Condition(one.key, relation, value, text, mark, target.id))
    return tuple(bounds)


def without_target(text: str) -> tuple[str, str]:
    """A bound's text without the target behind it, and the target's id: "" where none is named."""
    parts = OF_TARGET.fullmatch(text)
    return (parts[1], parts[2]) if parts is not None and parts[2] in BY_ID else (text, "")
