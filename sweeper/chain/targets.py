"""What to reach, by solving which setting."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sweeper.chain.conditions import read_conditions, read_quantity
from sweeper.chain.document import Node
from sweeper.chain.faults import KEEP_ONE, Faults
from sweeper.chain.goals import CAPPED, goals_of, is_capped, names_quantity, read_goal, read_within
from sweeper.chain.keys import KEYS
from sweeper.chain.model import Condition, Mark, Reach, SettingRef
from sweeper.chain.nearest import quoted
from sweeper.chain.refs import BYPASS, controls, read_ref, same_control, silenced_by, stage_of
from sweeper.chain.sent_out import outside_after
from sweeper.chain.shapes import Field, fields, listed, single
from sweeper.chain.stages import StageNames
from sweeper.chain.vary import Varied
from sweeper.quantities import Quantity

MOST_SOLVED = 3  # the solver turns three settings together at most


@dataclass(frozen=True)
class Targets:
    """reach: what is solved. bounds: ceilings that nothing is solved for, as limits."""

    reach: tuple[Reach, ...] = ()
    bounds: tuple[Condition, ...] = ()


@dataclass(frozen=True)
class _Entry:
    """One entry of `reach`: the field with its goal, what that measures, and everything said beside it."""

    goal: Field
    quantity: Quantity
    known: Mapping[str, Field]


def read_reach(node: Node, names: StageNames, varied: Varied, faults: Faults) -> Targets:
    """Every entry of `reach`."""
    reach: list[Reach] = []
    bounds: list[Condition] = []
    first: dict[str, Mark] = {}
    solving = 0
    for entry in (_entry(item, names, faults) for item in listed(node, "reach", faults)):
        if entry is None:
            continue
        goal = entry.goal
        if goal.name in first:
            faults.add(goal.mark, f"'{goal.name}' is reached twice; first on line {first[goal.name].line}", KEEP_ONE)
        first.setdefault(goal.name, goal.mark)
        if "by" not in entry.known and entry.quantity.key in CAPPED and not _wants_solving(entry):
            bounds += _bound(entry, faults)
            continue
        solving += 1
        if solving == MOST_SOLVED + 1:
            faults.add(goal.mark, "a fourth setting to solve: three are solved together at most",
                       f"take one entry out, or put a bound on '{goal.name}' under 'limits'")
        reach += _solved(entry, names, varied, reach, faults)
    return Targets(tuple(reach), tuple(bounds))


def _entry(item: Node, names: StageNames, faults: Faults) -> _Entry | None:
    """An entry and the one quantity of it, when it is one that can be reached."""
    also = tuple(key.text or "" for key, _ in item.pairs or () if names_quantity(key.text or ""))
    known = fields(item, "reach", "an entry of 'reach'", faults, also)
    goals = [field for name, field in known.items() if names_quantity(name)]
    if not goals:
        if item.pairs is not None and set(known) <= set(KEYS["reach"]):  # nothing unknown either
            faults.add(item.mark, "this entry of 'reach' names no measurement",
                       "add e.g. loudness: -14 LUFS")
        return None
    for extra in goals[1:]:
        faults.add(extra.mark, f"'{extra.name}' shares an entry with '{goals[0].name}'",
                   "give it an entry of its own")
    quantity = read_quantity(goals[0].name, goals[0].mark, names, faults)
    if quantity is None:
        _stop_at(known, names, faults)  # so that its faults are told too
        return None
    if goals_of(quantity) is None:
        faults.add(goals[0].mark, f"'{quantity.name}' cannot be landed on", "put a bound on it under 'limits'")
        return None
    return _Entry(goals[0], quantity, known)


def _wants_solving(entry: _Entry) -> bool:
    """Whether a peak is given as a level to land on, so that it lacks the setting to solve."""
    return entry.quantity.key == "sample_peak_dbfs" and not is_capped(entry.goal.value)


def _bound(entry: _Entry, faults: Faults) -> list[Condition]:
    """A ceiling that is only watched: the limiter's own ceiling keeps it."""
    name = entry.quantity.name
    for key in ("within", "stop at"):
        if key in entry.known:
            faults.add(entry.known[key].mark, f"'{key}' has no use here: nothing is solved for the {name}",
                       "take it out, or add by: SETTING")
    value = read_goal(entry.goal, entry.quantity, faults)
    if value is None:
        return []
    return [bound_on(entry.quantity, value, entry.goal.mark)]


def bound_on(quantity: Quantity, highest: float, mark: Mark) -> Condition:
    """A ceiling as a limit."""
    return Condition(quantity.key, "<=", highest, f"{quantity.name} <= {highest:g} {quantity.unit}", mark)


def _solved(
    entry: _Entry, names: StageNames, varied: Varied, others: list[Reach], faults: Faults
) -> list[Reach]:
    known, capped = entry.known, is_capped(entry.goal.value)
    goal = read_goal(entry.goal, entry.quantity, faults)
    within = read_within(known.get("within"), entry.goal, entry.quantity, goal, faults)
    stop_at = _stop_at(known, names, faults)
    if "stop at" in known and capped and entry.quantity.key in CAPPED:
        faults.add(known["stop at"].mark, f"'stop at' has no use under a ceiling, which {entry.goal.name} is here",
                   "move it to the entry whose setting it should stop")
    by = _by(entry.goal, known.get("by"), names, varied, others, faults)
    if goal is None or by is None:
        return []
    return [Reach(entry.quantity.key, goal, capped, within, by, stop_at, entry.goal.mark)]


def _stop_at(known: Mapping[str, Field], names: StageNames, faults: Faults) -> tuple[Condition, ...]:
    if "stop at" not in known:
        return ()
    return read_conditions(known["stop at"].value, "stop at", names, faults, targets=False)


def _by(
    goal: Field, field: Field | None, names: StageNames, varied: Varied, others: list[Reach], faults: Faults
) -> SettingRef | None:
    """The setting to solve: heard, not a switch, and neither varied nor solved elsewhere as well."""
    if field is None:
        faults.add(goal.mark, f"'{goal.name}' names no setting to solve", "add e.g. by: limiter.drive")
        return None
    text = single(field.value, "by", faults, "write one setting, e.g. limiter.drive")
    ref = read_ref(text, field.value.mark, names, faults) if text is not None else None
    if ref is None:
        return None
    if BYPASS in controls(ref, names):
        faults.add(field.value.mark, "bypass is on or off, nothing to solve", "name a setting with a range")
    silent = silenced_by(ref, names)
    if silent is not None:
        faults.add(field.value.mark, f"'{silent.name}' is bypassed, so '{ref}' changes nothing",
                   f"take 'bypass' out of '{silent.name}', or solve another setting")
    _check_sent_once(ref, field, names, varied, faults)
    for axis in varied.axes:
        if same_control(ref, axis.ref, names):
            faults.add(field.value.mark, f"'{ref}' is solved here and varied on line {axis.mark.line}",
                       "take it out of 'vary', or solve another setting")
    for other in others:
        if same_control(ref, other.by, names):
            faults.add(field.value.mark, f"{quoted(str(ref))} is solved on line {other.mark.line} already",
                       "solve another setting here")
    return ref


def _check_sent_once(ref: SettingRef, field: Field, names: StageNames, varied: Varied, faults: Faults) -> None:
    """What is solved is rendered again and again: nothing behind it may stand outside."""
    unbypassed = frozenset(axis.ref.stage for axis in varied.axes if axis.ref.setting == BYPASS)
    outside = outside_after(stage_of(ref, names), tuple(names.stages.values()), varied.sequence, unbypassed)
    if outside is not None:
        faults.add(field.value.mark, f"'{ref}' stands before {quoted(outside.name)}, which is outside: "
                   "every pass would have to be sent out", f"solve a setting behind {quoted(outside.name)}")
