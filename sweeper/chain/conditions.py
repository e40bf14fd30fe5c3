"""Bounds on measurements and what ranks: `mono loss <= 1 LU`, `crest highest`."""

from __future__ import annotations

import re

from sweeper.chain.document import Node
from sweeper.chain.faults import KEEP_ONE, Faults
from sweeper.chain.keys import TAKE_OUT
from sweeper.chain.model import Condition, Mark, Preference
from sweeper.chain.named_targets import MEETS, conditions_of, read_target, without_target
from sweeper.chain.nearest import quoted, suggestion
from sweeper.chain.shapes import folded, listed, single
from sweeper.chain.values import amount_in
from sweeper.quantities import BY_NAME, Quantity
from sweeper.targets import BY_ID
from sweeper.units import plain

RELATIONS = {"<=": "<=", "≤": "<=", ">=": ">=", "≥": ">="}
EXAMPLE = "write e.g. 'crest >= 8 dB' or 'mono loss <= 1 LU'"
BUILT = tuple(quantity.name for quantity in BY_NAME.values() if quantity.built)


def read_quantity(name: str, mark: Mark, faults: Faults) -> Quantity | None:
    """The quantity of that name; None with a fault when there is none or it is not measured yet."""
    written = folded(plain(name))
    quantity = BY_NAME.get(written)
    if quantity is None:
        if "." in written and written.rpartition(".")[2] in BY_NAME:
            faults.not_built(mark, f"{quoted(name)}, a measurement of one stage,", TAKE_OUT)
        else:
            faults.add(mark, f"no measurement is called {quoted(name)}", suggestion(written, BUILT))
        return None
    if not quantity.built:
        faults.not_built(mark, quoted(quantity.name), TAKE_OUT)
        return None
    return quantity


def read_conditions(node: Node, what: str, faults: Faults, targets: bool = True,
                    kept: bool = False) -> tuple[Condition, ...]:  # fmt: skip
    """Every bound of a list; the same bound set twice is a fault. targets: `meets NAME` may stand for several.

    kept: they are a run's, judged by the targets as they were then.
    """
    found: dict[tuple[str, str, str], Condition] = {}
    for item in listed(node, what, faults):
        for condition in _conditions(item, what, faults, targets, kept):
            first = found.setdefault(condition.bounds, condition)
            if first is not condition:
                add_twice_bounded(condition, first, faults)
    return tuple(found.values())


def add_twice_bounded(second: Condition, first: Condition, faults: Faults) -> None:
    """Note that two conditions bound the same thing from the same side."""
    what = f"{quoted(second.text)} bounds what line {first.mark.line} bounds already"
    faults.add(second.mark, what, KEEP_ONE)


def _conditions(node: Node, what: str, faults: Faults, targets: bool, kept: bool) -> tuple[Condition, ...]:
    """The bound of an entry, or those of the target that it names."""
    text = single(node, f"an entry of '{what}'", faults, EXAMPLE)
    named = MEETS.fullmatch(text or "")
    if text is None:
        return ()
    if named is None:
        condition = _condition(text, node, faults, kept)
        return () if condition is None else (condition,)
    if not targets:
        faults.add(node.mark, f"{quoted(text)} has no use in '{what}'", f"put it under 'limits'; here {EXAMPLE}")
        return ()
    target = read_target(named[1], node.mark, faults)
    return () if target is None else conditions_of(target, node.mark)


def _condition(text: str, node: Node, faults: Faults, kept: bool) -> Condition | None:
    bound, target = without_target(text)
    parts = re.fullmatch(r"([^<>=≤≥]+?)\s*([<>=≤≥]+)\s*([^<>=≤≥]+)", plain(bound))
    if parts is None or parts[2] not in RELATIONS:
        faults.add(node.mark, f"{quoted(text)} is no bound on a measurement", EXAMPLE)
        return None
    quantity = read_quantity(parts[1], node.mark, faults)
    if quantity is None:
        return None
    value = amount_in(parts[3], node, quantity.name, quantity.unit, faults)
    if value is None:
        return None
    found = Condition(quantity.key, RELATIONS[parts[2]], value, text, node.mark, target)
    if target and not kept:
        asked = conditions_of(BY_ID[target], node.mark)
        if all((one.key, one.relation, one.value) != (found.key, found.relation, found.value) for one in asked):
            faults.add(node.mark, f"{quoted(text)} is not what '{target}' asks for",
                       f"write 'meets {target}', or take the name out")
            return None
    return found


def read_preferences(node: Node, faults: Faults) -> tuple[Preference, ...]:
    """What ranks the variants, the weightiest first."""
    found: dict[str, Preference] = {}
    for item in listed(node, "prefer", faults):
        text = single(item, "an entry of 'prefer'", faults, "write e.g. 'crest highest'")
        if text is None:
            continue
        name, _, end = text.rpartition(" ")
        if end.casefold() not in ("highest", "lowest") or not name:
            faults.add(item.mark, f"{quoted(text)} does not say what ranks first",
                       "write e.g. 'crest highest' or 'mono loss lowest'")
            continue
        quantity = read_quantity(name, item.mark, faults)
        if quantity is None:
            continue
        preference = Preference(quantity.key, end.casefold() == "highest", item.mark)
        if found.setdefault(quantity.key, preference) is not preference:
            first_line = found[quantity.key].mark.line
            faults.add(item.mark, f"'{quantity.name}' ranks twice; first on line {first_line}", KEEP_ONE)
    return tuple(found.values())
