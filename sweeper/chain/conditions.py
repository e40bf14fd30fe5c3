"""Bounds on measurements and what ranks: `mono loss <= 1 LU`, `crest highest`."""

from __future__ import annotations

import re

from sweeper.chain.document import Node
from sweeper.chain.faults import KEEP_ONE, Faults
from sweeper.chain.model import Condition, Mark, Preference, Stage
from sweeper.chain.named_targets import MEETS, conditions_of, read_target, without_target
from sweeper.chain.nearest import quoted, suggestion
from sweeper.chain.shapes import folded, listed, single
from sweeper.chain.stages import StageNames
from sweeper.chain.values import amount_in
from sweeper.quantities import BY_NAME, Quantity, named_quantity, quantity_of
from sweeper.targets import BY_ID
from sweeper.units import plain

RELATIONS = {"<=": "<=", "≤": "<=", ">=": ">=", "≥": ">="}
EXAMPLE = "write e.g. 'crest >= 8 dB' or 'mono loss <= 1 LU'"
OF_STAGES = tuple(quantity.name for quantity in BY_NAME.values() if quantity.inside)


def read_quantity(name: str, mark: Mark, names: StageNames | None, faults: Faults) -> Quantity | None:
    """The quantity of that name, of a stage too; None with a fault when there is none.

    names: the stages that there are; None = not known here: then a stage is taken as it is written.
    """
    written = folded(plain(name))
    meant = named_quantity(written)
    if meant is None:
        before = written.partition(".")[0] if "." in written else ""
        known = [f"{before}.{each}" for each in OF_STAGES] if before else BY_NAME
        faults.add(mark, f"no measurement is called {quoted(name)}", suggestion(written, known))
        return None
    stage, quantity = meant
    if not stage:
        if quantity.inside and (reel := _outside_behind(None, names)) is not None:
            what = f"{quoted(reel.name)} stands outside: nothing tells the {quantity.name} of the whole chain"
            faults.add(mark, what, f"name a stage behind it, e.g. limiter.{quantity.name}")
            return None
        return quantity
    if not quantity.inside:
        faults.add(mark, f"{quantity.name} is measured of the whole master, not of one stage",
                   f"write {quoted(quantity.name)}; of a stage there are {', '.join(OF_STAGES)}")
        return None
    own = _stage(" ".join(plain(name).split())[: -len(quantity.name) - 1], mark, names, faults)
    return None if own is None else quantity_of(f"{own}.{quantity.key}")


def _stage(written: str, mark: Mark, names: StageNames | None, faults: Faults) -> str | None:
    """The stage's name as the chain file has it; None with a fault when there is none that can be looked into."""
    if names is None:
        return written
    stage = names.stages.get(folded(written))
    if stage is None:
        if names.complete:
            known = [each.name for each in names.stages.values()]
            faults.add(mark, f"no stage is called {quoted(written)}", suggestion(written, known))
        return None
    if stage.is_fader or stage.outside:
        what = "is a bus" if stage.is_fader else "stands outside"
        faults.add(mark, f"{quoted(stage.name)} {what}: there is nothing to look into", "name a stage with a plugin")
        return None
    if (reel := _outside_behind(stage, names)) is not None:
        what = f"{quoted(stage.name)} stands before {quoted(reel.name)}, which is outside: it is not looked into"
        faults.add(mark, what, f"name a stage behind {quoted(reel.name)}")
        return None
    return stage.name


def _outside_behind(stage: Stage | None, names: StageNames | None) -> Stage | None:
    """A stage outside that is heard, behind a stage, or anywhere in the chain; None where there is none.

    In the file's order: where a `sequence` moves stages across it, each variant says what cannot be told of it.
    """
    stages = list(names.stages.values()) if names is not None else []
    behind = stages[stages.index(stage) + 1 :] if stage is not None else stages
    return next((each for each in behind if each.outside and not each.bypass), None)


def read_conditions(node: Node, what: str, names: StageNames | None, faults: Faults, targets: bool = True,
                    kept: bool = False) -> tuple[Condition, ...]:  # fmt: skip
    """Every bound of a list; the same bound set twice is a fault. targets: `meets NAME` may stand for several.

    names: the stages, None = not known here. kept: they are a run's, judged by the targets as they were then.
    """
    found: dict[tuple[str, str, str], Condition] = {}
    for item in listed(node, what, faults):
        for condition in _conditions(item, what, names, faults, targets, kept):
            first = found.setdefault(condition.bounds, condition)
            if first is not condition:
                add_twice_bounded(condition, first, faults)
    return tuple(found.values())


def add_twice_bounded(second: Condition, first: Condition, faults: Faults) -> None:
    """Note that two conditions bound the same thing from the same side."""
    what = f"{quoted(second.text)} bounds what line {first.mark.line} bounds already"
    faults.add(second.mark, what, KEEP_ONE)


def _conditions(node: Node, what: str, names: StageNames | None, faults: Faults, targets: bool,
                kept: bool) -> tuple[Condition, ...]:  # fmt: skip
    """The bound of an entry, or those of the target that it names."""
    text = single(node, f"an entry of '{what}'", faults, EXAMPLE)
    named = MEETS.fullmatch(text or "")
    if text is None:
        return ()
    if named is None:
        condition = _condition(text, node, names, faults, kept)
        return () if condition is None else (condition,)
    if not targets:
        faults.add(node.mark, f"{quoted(text)} has no use in '{what}'", f"put it under 'limits'; here {EXAMPLE}")
        return ()
    target = read_target(named[1], node.mark, faults)
    return () if target is None else conditions_of(target, node.mark)


def _condition(text: str, node: Node, names: StageNames | None, faults: Faults,
               kept: bool) -> Condition | None:  # fmt: skip
    bound, target = without_target(text)
    parts = re.fullmatch(r"([^<>=≤≥]+?)\s*([<>=≤≥]+)\s*([^<>=≤≥]+)", plain(bound))
    if parts is None or parts[2] not in RELATIONS:
        faults.add(node.mark, f"{quoted(text)} is no bound on a measurement", EXAMPLE)
        return None
    quantity = read_quantity(parts[1], node.mark, names, faults)
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


def read_preferences(node: Node, names: StageNames | None, faults: Faults) -> tuple[Preference, ...]:
    """What ranks the variants, the weightiest first. names: the stages, None = not known here."""
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
        quantity = read_quantity(name, item.mark, names, faults)
        if quantity is None:
            continue
        preference = Preference(quantity.key, end.casefold() == "highest", item.mark)
        if found.setdefault(quantity.key, preference) is not preference:
            first_line = found[quantity.key].mark.line
            faults.add(item.mark, f"'{quantity.name}' ranks twice; first on line {first_line}", KEEP_ONE)
    return tuple(found.values())
