"""What a mix has of its own: settings, goals and limits in place of those that all mixes have."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from sweeper.chain.amounts import kinds_for
from sweeper.chain.conditions import add_twice_bounded, read_conditions, read_quantity
from sweeper.chain.faults import KEEP_ONE, Faults
from sweeper.chain.goals import is_capped, read_goal
from sweeper.chain.mixes import MixesRead
from sweeper.chain.model import Condition, Mix, OwnGoal, OwnSetting, Switch
from sweeper.chain.nearest import quoted
from sweeper.chain.refs import BYPASS, controls, read_ref, same_control, silenced_by, stage_of
from sweeper.chain.ride_refs import BY, is_step
from sweeper.chain.sent_out import outside_after
from sweeper.chain.shapes import Field, entries, folded
from sweeper.chain.stages import StageNames
from sweeper.chain.targets import Targets, bound_on
from sweeper.chain.values import read_value
from sweeper.chain.vary import Varied
from sweeper.quantities import quantity_of

SETTINGS, REACH, LIMITS = "settings", "reach", "limits"
#: What of a reach is said once, for all mixes.
FOR_ALL = ("within", "by", "stop at")


@dataclass(frozen=True)
class ForAll:
    """What the chain file says for all mixes. is_whole: its `reach` has no fault, so that nothing is missing in it."""

    names: StageNames
    varied: Varied
    targets: Targets
    is_whole: bool


def read_own(read: MixesRead, for_all: ForAll, faults: Faults) -> tuple[Mix, ...]:
    """The mixes with what each has of its own."""
    return tuple(_mix(mix, beside, for_all, faults) for mix, beside in zip(*read, strict=True))


def _mix(mix: Mix, beside: Mapping[str, Field], for_all: ForAll, faults: Faults) -> Mix:
    if "settings from" in beside:
        for key in (SETTINGS, REACH):
            if key in beside:
                faults.add(beside[key].mark, f"{quoted(mix.written)} has its settings from another mix, solved ones "
                           f"too: '{key}' has no use here", "take it out, or take 'settings from' out")  # fmt: skip
        beside = {key: field for key, field in beside.items() if key not in (SETTINGS, REACH)}
    settings = _settings(beside[SETTINGS], for_all, faults) if SETTINGS in beside else ()
    goals, bounds = _goals(beside[REACH], for_all, faults) if REACH in beside else ((), ())
    limits = read_conditions(beside[LIMITS].value, LIMITS, for_all.names, faults) if LIMITS in beside else ()
    for bound in bounds:
        for limit in limits:
            if limit.bounds == bound.bounds:
                add_twice_bounded(limit, bound, faults)
    return replace(mix, settings=settings, goals=goals, limits=(*bounds, *limits))


def _settings(field: Field, for_all: ForAll, faults: Faults) -> tuple[OwnSetting, ...]:
    found: list[OwnSetting] = []
    for one in entries(field.value, "settings of a mix", faults):
        ref = read_ref(one.name, one.mark, for_all.names, faults)
        value = read_value(one.value, one.name, faults, is_step(one.name))
        if ref is None or value is None:
            continue
        own = OwnSetting(ref, value, one.mark)
        _check_kind(own, one, for_all.names, faults)
        _check_decided(own, found, for_all, faults)
        found.append(own)
    _check_heard(found, for_all, faults)
    return tuple(found)


def _check_kind(own: OwnSetting, field: Field, names: StageNames, faults: Faults) -> None:
    """Trims take dB, blend takes %, bypass takes on or off."""
    turned = controls(own.ref, names)
    if BYPASS in turned:
        if not isinstance(own.value, Switch):
            faults.add(field.value.mark, f"'{own.ref}' takes on and off only", "write on or off")
        return
    for kind in kinds_for(turned, bool(own.ref.ride), own.ref.word == BY):
        if not kind.allows(own.value):
            faults.add(field.value.mark, f"'{own.ref}' takes {kind.takes}", f"write e.g. {kind.examples[1]}")


def _check_decided(own: OwnSetting, others: list[OwnSetting], for_all: ForAll, faults: Faults) -> None:
    """What is varied or solved is so for all mixes, and one control is set once."""
    ref, names = own.ref, for_all.names
    for axis in for_all.varied.axes:
        if same_control(ref, axis.ref, names):
            faults.add(own.mark, f"'{ref}' is set for one mix here, and varied for all on line {axis.mark.line}",
                       "take it out here, or out of 'vary'")
    for reach in for_all.targets.reach:
        if same_control(ref, reach.by, names):
            faults.add(own.mark, f"'{ref}' is set for one mix here, and solved for all on line {reach.mark.line}",
                       "take it out here, or solve another setting there")
    for other in others:
        if same_control(ref, other.ref, names):
            faults.add(own.mark, f"'{ref}' turns the same control as '{other.ref}' on line {other.mark.line}",
                       KEEP_ONE)


def _check_heard(found: list[OwnSetting], for_all: ForAll, faults: Faults) -> None:
    """What is set is heard in this mix, and what is solved or measured for a reach is not bypassed in it."""
    switched = {one.ref.stage: one for one in found if one.ref.setting == BYPASS and isinstance(one.value, Switch)}
    stages = {key: replace(stage, bypass=_is_off(switched[stage.name])) if stage.name in switched else stage
              for key, stage in for_all.names.stages.items()}  # fmt: skip
    names = replace(for_all.names, stages=stages)
    for one in found:
        silent = silenced_by(one.ref, names)
        if silent is not None:
            remedy = f"write {silent.name}.{BYPASS}: off beside it" if silent.name not in switched else \
                f"'{silent.name}.{BYPASS}'"  # fmt: skip
            faults.add(one.mark, f"'{silent.name}' is bypassed, so '{one.ref}' changes nothing",
                       f"take this out, or {remedy}")
    for name, one in switched.items():
        if _is_off(one):
            _check_unsilenced(name, one, for_all, faults)
        else:
            _check_sent_once(one, names, for_all, faults)


def _is_off(bypass: OwnSetting) -> bool:
    """Whether a bypass leaves its stage out of the sound."""
    return isinstance(bypass.value, Switch) and bypass.value.on


def _check_unsilenced(name: str, own: OwnSetting, for_all: ForAll, faults: Faults) -> None:
    """Nothing that a reach turns, or looks at, may be bypassed. name: of the stage or bus."""
    silent = {stage.name for stage in for_all.names.stages.values() if name in (stage.name, stage.bus)}
    for reach in for_all.targets.reach:
        if reach.by.stage in silent:
            faults.add(own.mark, f"'{reach.by}' is solved for all mixes: bypassed, nothing turns the "
                       f"{quantity_of(reach.key).name}", "take the bypass out, or solve another stage")  # fmt: skip
        for key in (reach.key, *(bound.key for bound in reach.stop_at)):
            if key.rpartition(".")[0] in silent - {reach.by.stage}:
                faults.add(own.mark, f"{quantity_of(key).name} is solved for on line {reach.mark.line}: bypassed, "
                           "there is none", "take the bypass out, or put that under 'limits'")  # fmt: skip


def _check_sent_once(own: OwnSetting, names: StageNames, for_all: ForAll, faults: Faults) -> None:
    """What is solved is rendered again and again: nothing behind it may stand outside."""
    stages, unbypassed = tuple(names.stages.values()), frozenset[str]()
    for reach in for_all.targets.reach:
        outside = outside_after(stage_of(reach.by, names), stages, for_all.varied.sequence, unbypassed)
        if outside is not None and outside.name == own.ref.stage:
            faults.add(own.mark, f"{quoted(outside.name)} is outside and stands behind '{reach.by}', which is solved: "
                       "every pass would have to be sent out", f"leave {quoted(outside.name)} bypassed")  # fmt: skip


def _goals(field: Field, for_all: ForAll, faults: Faults) -> tuple[tuple[OwnGoal, ...], tuple[Condition, ...]]:
    """The mix's goals, and its ceilings where nothing is solved for them, as limits."""
    goals: list[OwnGoal] = []
    bounds: list[Condition] = []
    for one in entries(field.value, "reach of a mix", faults):
        if folded(one.name) in FOR_ALL:
            faults.add(one.mark, f"'{one.name}' is the same for all mixes: here stands the goal alone",
                       "take it out, or change it under the chain file's 'reach'")
            continue
        quantity = read_quantity(one.name, one.mark, for_all.names, faults)
        if quantity is None:
            continue
        reach = next((each for each in for_all.targets.reach if each.key == quantity.key), None)
        bound = next((each for each in for_all.targets.bounds if each.key == quantity.key), None)
        if reach is None and bound is None:
            if for_all.is_whole:
                faults.add(one.mark, f"'{quantity.name}' is not reached for all mixes, so that there is nothing to "
                           "solve", f"{_reached(for_all.targets)}; a bound goes under this mix's 'limits'")  # fmt: skip
            continue
        goal = read_goal(one, quantity, faults)
        if goal is None:
            continue
        if reach is not None and is_capped(one.value) != reach.at_most:
            example = f"at most {goal:g}" if reach.at_most else f"{goal:g}"
            faults.add(one.value.mark, f"'{quantity.name}' is {'a ceiling' if reach.at_most else 'landed on'} for all "
                       f"mixes, on line {reach.mark.line}", f"write {one.name}: {example} {quantity.unit}".rstrip())
        elif reach is not None:
            goals.append(OwnGoal(quantity.key, goal, one.mark))
        else:
            bounds.append(bound_on(quantity, goal, one.mark))
    return tuple(goals), tuple(bounds)


def _reached(targets: Targets) -> str:
    keys = [reach.key for reach in targets.reach] + [bound.key for bound in targets.bounds]
    names = ", ".join(quantity_of(key).name for key in keys)
    return f"reached here: {names}" if names else "the chain file has no 'reach'"
