"""What to reach, by solving which setting."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from sweeper.chain.conditions import read_conditions, read_quantity
from sweeper.chain.document import Node
from sweeper.chain.faults import KEEP_ONE, Faults
from sweeper.chain.keys import KEYS
from sweeper.chain.model import Condition, Mark, Reach, SettingRef, VaryAxis
from sweeper.chain.nearest import quoted
from sweeper.chain.refs import BYPASS, control, read_ref, same_control, stage_of
from sweeper.chain.shapes import Field, fields, listed, single
from sweeper.chain.stages import StageNames
from sweeper.chain.values import amount_in
from sweeper.quantities import BY_NAME
from sweeper.units import plain

LOUDNESS, TRUE_PEAK = BY_NAME["loudness"], BY_NAME["true peak"]
LOWEST_GOAL_LUFS, HIGHEST_GOAL_LUFS = -60.0, 0.0
WITHIN_LU, LEAST_WITHIN_LU = 0.1, 0.01
AT_MOST = re.compile(r"at most\s+(.+)", re.IGNORECASE)


@dataclass(frozen=True)
class Targets:
    """reach: what is solved. bounds: true-peak entries that nothing is solved for, as limits."""

    reach: tuple[Reach, ...]
    bounds: tuple[Condition, ...]


def read_reach(node: Node, names: StageNames, varied: tuple[VaryAxis, ...], faults: Faults) -> Targets:
    """Every entry of `reach`."""
    reach: list[Reach] = []
    bounds: list[Condition] = []
    first: dict[str, Mark] = {}
    for item in listed(node, "reach", faults):
        also = tuple(key.text or "" for key, _ in item.pairs or () if _names_quantity(key.text or ""))
        known = fields(item, "reach", "an entry of 'reach'", faults, also)
        goal = _goal(item, known, faults)
        if goal is None:
            continue
        if goal.name in first:
            first_line = first[goal.name].line
            faults.add(goal.mark, f"'{goal.name}' is reached twice; first on line {first_line}", KEEP_ONE)
        first.setdefault(goal.name, goal.mark)
        if goal.name == TRUE_PEAK.name:
            bounds += _true_peak(goal, known, faults)
        else:
            reach += _loudness(goal, known, names, varied, faults)
    return Targets(tuple(reach), tuple(bounds))


def _goal(item: Node, known: Mapping[str, Field], faults: Faults) -> Field | None:
    """The one quantity of an entry, when it is one that this version reaches."""
    goals = [field for name, field in known.items() if _names_quantity(name)]
    if not goals:
        if item.pairs is not None and set(known) <= set(KEYS["reach"]):  # nothing unknown either
            faults.add(item.mark, "this entry of 'reach' names no measurement",
                       "add e.g. loudness: -14 LUFS")
        return None
    for extra in goals[1:]:
        faults.add(extra.mark, f"'{extra.name}' shares an entry with '{goals[0].name}'",
                   "give it an entry of its own")
    goal = goals[0]
    quantity = read_quantity(goal.name, goal.mark, faults)
    if quantity is None:
        return None
    if quantity not in (LOUDNESS, TRUE_PEAK):
        faults.not_built(goal.mark, f"reaching '{goal.name}'", f"put a bound on '{goal.name}' under 'limits'")
        return None
    return goal


def _names_quantity(name: str) -> bool:
    """Whether a key is a measurement's name, of the whole or of one stage."""
    return name in BY_NAME or ("." in name and name.rpartition(".")[2] in BY_NAME)


def _true_peak(goal: Field, known: Mapping[str, Field], faults: Faults) -> list[Condition]:
    """A ceiling that is only watched: the limiter's own ceiling keeps it."""
    if "by" in known:
        faults.not_built(known["by"].mark, "solving a setting for the true peak",
                         "set the limiter's ceiling itself and put 'true peak <= -1 dBTP' under 'limits'")
    for key in ("within", "stop at"):
        if key in known and "by" not in known:
            faults.add(known[key].mark, f"'{key}' has no use here: nothing is solved for the true peak",
                       "take it out")
    text = single(goal.value, goal.name, faults)
    ceiling = AT_MOST.fullmatch(text or "")
    if text is None:
        return []
    if ceiling is None:
        faults.add(goal.value.mark, f"true peak is {quoted(text)}, which is no ceiling",
                   "write e.g. at most -1 dBTP")
        return []
    value = amount_in(ceiling[1], goal.value, goal.name, TRUE_PEAK.unit, faults)
    if value is None:
        return []
    return [Condition(TRUE_PEAK.key, "<=", value, f"true peak <= {value:g} dBTP", goal.mark)]


def _loudness(
    goal: Field, known: Mapping[str, Field], names: StageNames, varied: tuple[VaryAxis, ...], faults: Faults
) -> list[Reach]:
    goal_lufs = _goal_lufs(goal, faults)
    within_lu = _within_lu(known.get("within"), faults)
    stop_at = read_conditions(known["stop at"].value, "stop at", faults) if "stop at" in known else ()
    by = _by(goal, known.get("by"), names, varied, faults)
    if goal_lufs is None or by is None:
        return []
    return [Reach(LOUDNESS.key, goal_lufs, False, within_lu, by, stop_at, goal.mark)]


def _goal_lufs(goal: Field, faults: Faults) -> float | None:
    text = single(goal.value, goal.name, faults)
    if text is None:
        return None
    ceiling = AT_MOST.fullmatch(text)
    if ceiling is not None:
        faults.add(goal.value.mark, f"loudness is {quoted(text)}: a loudness is landed on, not capped",
                   f"write {ceiling[1]} alone, or put 'loudness <= {ceiling[1]}' under 'limits'")
        return None
    value = amount_in(text, goal.value, goal.name, LOUDNESS.unit, faults)
    if value is not None and not LOWEST_GOAL_LUFS <= value <= HIGHEST_GOAL_LUFS:
        faults.add(goal.value.mark, f"a loudness of {value:g} LUFS cannot be meant",
                   "write -60 LUFS to 0 LUFS")
    return value


def _within_lu(field: Field | None, faults: Faults) -> float:
    text = single(field.value, "within", faults) if field else None
    if field is None or text is None:
        return WITHIN_LU
    text = re.sub(r"(?<=[\d.,\s])dB$", "LU", plain(text), flags=re.IGNORECASE)  # 1 LU is 1 dB: EBU R 128
    value = amount_in(text, field.value, "within", LOUDNESS.difference_unit, faults)
    if value is not None and value < LEAST_WITHIN_LU:
        faults.add(field.value.mark, f"within {value:g} LU is finer than can be reached",
                   f"write {LEAST_WITHIN_LU:g} LU or more")
    return WITHIN_LU if value is None else value


def _by(
    goal: Field, field: Field | None, names: StageNames, varied: tuple[VaryAxis, ...], faults: Faults
) -> SettingRef | None:
    """The setting to solve: heard, not a switch, and not varied as well."""
    if field is None:
        faults.add(goal.mark, f"'{goal.name}' names no setting to solve", "add e.g. by: limiter.drive")
        return None
    text = single(field.value, "by", faults, "write one setting, e.g. limiter.drive")
    ref = read_ref(text, field.value.mark, names, faults) if text is not None else None
    if ref is None:
        return None
    if control(ref, names) == BYPASS:
        faults.add(field.value.mark, "bypass is on or off, nothing to solve", "name a setting with a range")
    elif stage_of(ref, names).bypass:
        faults.add(field.value.mark, f"'{ref.stage}' is bypassed, so '{ref}' changes nothing",
                   f"take 'bypass' out of '{ref.stage}', or solve another setting")
    for axis in varied:
        if same_control(ref, axis.ref, names):
            faults.add(field.value.mark, f"'{ref}' is solved here and varied on line {axis.mark.line}",
                       "take it out of 'vary', or solve another setting")
    return ref
