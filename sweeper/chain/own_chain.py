"""The chain as one mix has it: its own settings, goals and limits in place of those that all have."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from sweeper.chain.model import (
    BLEND,
    TRIMS,
    Assignment,
    Chain,
    Condition,
    Mix,
    Number,
    OwnSetting,
    Ride,
    SettingRef,
    Stage,
    Switch,
)
from sweeper.chain.refs import BYPASS, control_of
from sweeper.chain.shapes import folded


def chain_of(chain: Chain, mix: int) -> Chain:
    """The chain as the mix of that number has it. The mixes in it still tell their goals, by which an album goes, and
    nothing else of their own: so it may be taken for a chain that was written like this.

    An alternate has what its main mix has, under limits of its own where it has some on the same. A setting that some
    alternatives of a stage lack stands in these too: only the plugins tell.
    """
    if all(one.is_plain for one in chain.mixes):
        return chain
    own, main = chain.mixes[mix], chain.main_of(mix)
    given = own if main is None else chain.mixes[main]
    goals = {one.key: one.goal for one in given.goals}
    limits = limits_with(chain.limits, given.limits)
    return replace(
        chain,
        mixes=tuple(map(_bare, chain.mixes)),
        inserts=_set(chain.inserts, given.settings),
        buses=_set(chain.buses, given.settings),
        output=_set(chain.output, given.settings),
        rides=tuple(_ridden(ride, given.settings) for ride in chain.rides),
        reach=tuple(replace(reach, goal=goals.get(reach.key, reach.goal)) for reach in chain.reach),
        limits=limits_with(limits, own.limits) if main is not None else limits,
    )


def each_chain(chain: Chain) -> tuple[Chain, ...]:
    """The chain as each mix has it, in their order."""
    return tuple(chain_of(chain, mix) for mix in range(len(chain.mixes)))


def own_refs(chain: Chain) -> tuple[SettingRef, ...]:
    """Every setting that some mix has of its own, once, in the file's order."""
    return tuple(dict.fromkeys(one.ref for mix in chain.mixes for one in mix.settings))


def limits_with(limits: Sequence[Condition], own: Sequence[Condition]) -> tuple[Condition, ...]:
    """The limits, each in whose place another stands replaced by that one; new ones follow."""
    instead = {one.bounds: one for one in own}
    known = {one.bounds for one in limits}
    return (*(instead.get(one.bounds, one) for one in limits), *(one for one in own if one.bounds not in known))


def _bare(mix: Mix) -> Mix:
    return replace(mix, settings=(), limits=())


def _set(stages: Sequence[Stage], own: Sequence[OwnSetting]) -> tuple[Stage, ...]:
    return tuple(_set_stage(stage, [one for one in own if one.ref.stage == stage.name and not one.ref.ride])
                 for stage in stages)  # fmt: skip


def _set_stage(stage: Stage, own: Sequence[OwnSetting]) -> Stage:
    """Of a stage with alternatives these are set, and its bypass, which is the whole stage's."""
    for one in own:
        whole = _with(stage, one) if not stage.alternatives or one.ref.setting == BYPASS else stage
        stage = replace(whole, alternatives=tuple(_with(choice, one) for choice in stage.alternatives))
    return stage


def _with(choice: Stage, own: OwnSetting) -> Stage:
    """A stage with one setting as the mix has it, a handle followed to what it turns."""
    name, value = control_of(own.ref, choice), own.value
    if name == BYPASS and isinstance(value, Switch):
        return replace(choice, bypass=value.on)
    if name == TRIMS[0] and isinstance(value, Number):
        return replace(choice, input_trim_db=value.value)
    if name == TRIMS[1] and isinstance(value, Number):
        return replace(choice, output_trim_db=value.value)
    if name == BLEND and isinstance(value, Number):
        return replace(choice, blend=value.value / 100)
    made = Assignment(_named(own.ref, choice), value, own.ref.side, own.mark)
    return replace(choice, settings=tuple(_assigned(choice, made)))


def _named(ref: SettingRef, choice: Stage) -> str:
    """The plugin's setting, spelled as the file spells it."""
    return next((handle.setting for handle in choice.handles if handle.name == ref.setting), ref.setting)


def _assigned(choice: Stage, made: Assignment) -> Iterator[Assignment]:
    """The settings with this one, in the place of the first that it replaces: so a step is the one that the same
    settings make where they stand in the stage itself."""
    is_there = False
    for old in choice.settings:
        left = tuple(_left(old, made, choice.channels.sides))
        if left != (old,) and not is_there:
            is_there = True
            yield made
        yield from left
    if not is_there:
        yield made


def _left(old: Assignment, made: Assignment, sides: Iterable[str]) -> Iterator[Assignment]:
    """What a new setting leaves of an old one: one of a side leaves what was set for every side on the others."""
    if folded(old.name) != folded(made.name) or (old.side and made.side and old.side != made.side):
        yield old
    elif made.side and not old.side:
        yield from (replace(old, side=side) for side in sides if side != made.side)


def _ridden(ride: Ride, own: Sequence[OwnSetting]) -> Ride:
    amounts = [one.value for one in own if one.ref.ride == ride.name]
    return replace(ride, amount=amounts[-1]) if amounts else ride
