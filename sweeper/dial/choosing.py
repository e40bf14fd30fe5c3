"""Which stage is dialled, on which mix, and what of the chain it takes to hear it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sweeper.chain.model import Assignment, Chain, FromDialled, Mix, Stage, VaryAxis
from sweeper.chain.named_mix import mix_named
from sweeper.chain.nearest import suggestion
from sweeper.chain.own_chain import chain_of
from sweeper.chain.processor import BUILTIN
from sweeper.errors import ChainFileError, PluginError, Problem
from sweeper.host.builtin_table import BUILTINS, PREFIX
from sweeper.host.setup import StageSetup
from sweeper.plan.names import BYPASS, setting_of
from sweeper.plan.variants import Variant
from sweeper.units import folded


@dataclass(frozen=True)
class Chosen:
    """What is dialled. stage: the chain's, or the alternative of it that was named."""

    chain: Chain
    stage: Stage
    mix: Mix

    @property
    def side(self) -> str:
        """The side whose instance is dialled: the first; "" = the stage has one instance on everything."""
        return self.stage.channels.sides[0]

    @property
    def own_settings(self) -> tuple[Assignment, ...]:
        """What the chain file sets of the dialled instance."""
        return tuple(each for each in self.stage.settings if each.side in ("", self.side))

    @property
    def called(self) -> str:
        """The stage as messages name it."""
        return f"'{self.stage.name}'" + (f" ({self.stage.label})" if self.stage.label else "")


def chosen(chain: Chain, stage: str, alternative: str | None, mix: str | None) -> Chosen:
    """The processor and the mix that were named. mix: its number from 1, or its file; None = the first.

    Raises ChainFileError for names that the chain file has not, PluginError for a stage without a window.
    """
    found = next((each for each in chain.stages if folded(each.name) == folded(stage)), None)
    if found is None:
        names = [each.name for each in chain.stages if not each.is_fader]
        raise _fault(chain, f"no stage is called '{stage}'", suggestion(stage, names))
    picked = Chosen(chain, _picked(chain, found, alternative), mix_named(chain, mix))
    _refuse_without_window(picked)
    return picked


def _picked(chain: Chain, stage: Stage, alternative: str | None) -> Stage:
    if not stage.alternatives:
        if alternative is not None:
            raise _fault(chain, f"'{stage.name}' has no alternatives", "leave --alternative out")
        return stage
    labels = [one.label for one in stage.alternatives]
    if alternative is None:
        raise _fault(chain, f"'{stage.name}' has alternatives", f"say which, --alternative: {', '.join(labels)}")
    for one in stage.alternatives:
        if folded(one.label) == folded(alternative):
            return one
    raise _fault(chain, f"'{stage.name}' has no alternative called '{alternative}'", suggestion(alternative, labels))


def _fault(chain: Chain, what: str, remedy: str) -> ChainFileError:
    return ChainFileError([Problem(str(chain.path), 0, 0, what, remedy)])


def _refuse_without_window(picked: Chosen) -> None:
    stage = picked.stage
    if stage.is_fader or stage.outside:
        raise PluginError(f"{picked.called} has no plugin, and so no window", "dial a stage that has one")
    if stage.plugin.casefold().startswith(BUILTIN):
        names = ", ".join(setting.name for effect in BUILTINS for setting in effect.settings
                          if folded(PREFIX + effect.name) == folded(stage.plugin))  # fmt: skip
        raise PluginError(f"{picked.called} is {stage.plugin}, which has no window",
                          f"write its settings into the chain file: {names}".removesuffix(": "))  # fmt: skip


def narrowed(picked: Chosen) -> Chain:
    """The chain as far as it is needed: the stages up to the dialled one, one mix, the first value of what is varied.

    Of the dialled stage only the alternative that was named is left, not bypassed. Steps from where something is
    dialled are left out of it: its window shows where it stands. What the mix has of its own is heard in the stages
    before it, and not in the dialled one, which is dialled for all mixes.
    """
    number, own = picked.chain.mixes.index(picked.mix), picked.stage
    chain = chain_of(picked.chain, number)
    inserts = _up_to(chain.inserts, own.name) if not chain.sequence else chain.inserts
    buses = chain.buses
    if own.bus:
        buses = _up_to(tuple(stage for stage in chain.buses if stage.bus == own.bus), own.name)
    elif any(stage.name == own.name for stage in chain.inserts):
        buses = ()
    output = _up_to(chain.output, own.name) if any(stage.name == own.name for stage in chain.output) else ()
    names = {stage.name for stage in (*inserts, *buses, *output)}
    return replace(
        chain, mixes=(chain.mixes[number],), references=(), inserts=_with(inserts, own), buses=_with(buses, own),
        output=_with(output, own),
        vary=tuple(_first(axis) for axis in chain.vary if axis.ref.stage in names and _is_heard(picked, axis)),
        rides=tuple(ride for ride in chain.rides if ride.ref.stage in names - {own.name}),
        reach=(), limits=(), prefer=(), match_over=(), explore=None,
    )  # fmt: skip


def _with(stages: Sequence[Stage], own: Stage) -> tuple[Stage, ...]:
    """The stages with the dialled one as it is dialled."""
    heard = replace(own, bypass=False)
    return tuple(
        stage if stage.name != own.name or stage.is_fader else
        replace(stage, bypass=False, alternatives=(heard,)) if stage.alternatives else heard
        for stage in stages
    )  # fmt: skip


def _up_to(stages: Sequence[Stage], name: str) -> tuple[Stage, ...]:
    """The stages up to and with the one of that name; all when it is none of them."""
    names = [stage.name for stage in stages]
    return tuple(stages[: names.index(name) + 1] if name in names else stages)


def _first(axis: VaryAxis) -> VaryAxis:
    return replace(axis, values=axis.values[:1], between=None)


def _is_heard(picked: Chosen, axis: VaryAxis) -> bool:
    if axis.ref.stage != picked.stage.name:
        return True
    if picked.stage.label or axis.ref.ride or axis.ref.setting == BYPASS:  # an alternative need not have the setting
        return False
    return not isinstance(axis.values[0], FromDialled)


def split(picked: Chosen, found: Sequence[Variant]) -> tuple[tuple[StageSetup, ...], StageSetup, tuple[str, ...]]:
    """The stages before the dialled one, that one as its window opens, and what is not as in a run; of `narrowed`."""
    own = picked.stage
    stages, number = next((variant.stages, number) for variant in found for number, setup in enumerate(variant.stages)
                          if setup.name == own.name and setup.label == own.label and not setup.is_fader)  # fmt: skip
    before = stages[:number]
    if own.bus:
        before = tuple(replace(setup, bus="") for setup in before)
    notes = [f"'{setup.name}' is outside: the loop goes on without it" for setup in before
             if setup.outside and not setup.bypass]  # fmt: skip
    if own.bypass:
        notes.append(f"{picked.called} is bypassed in the chain file")
    if any(ride.ref.stage == own.name for ride in picked.chain.rides):
        notes.append(f"the rides of {picked.called} rest while it is dialled")
    ours = [str(one.ref) for one in picked.mix.settings if one.ref.stage == own.name and not one.ref.ride]
    if ours:
        notes.append(f"{', '.join(ours)}: as the chain file has it for all mixes, and dialled for them; "
                     f"{picked.mix.written} keeps its own")  # fmt: skip
    heard = tuple(setup for setup in before if not setup.outside)
    return heard, replace(stages[number], bus=""), tuple(notes)


def decided_elsewhere(picked: Chosen) -> dict[str, str]:
    """The settings of the dialled stage that the window does not decide -> who does: "varied", "solved".

    What is varied in steps from where it is dialled is none of them.
    """
    own, side = picked.stage, picked.side
    found: dict[str, str] = {}
    for axis in picked.chain.vary:
        if axis.ref.stage == own.name and not axis.ref.ride and axis.ref.side in ("", side) and not any(
                isinstance(value, FromDialled) for value in axis.values):  # fmt: skip
            found[setting_of(own, axis.ref)] = "varied"
    for reach in picked.chain.reach:
        if reach.by.stage == own.name and not reach.by.ride and reach.by.side in ("", side):
            found[setting_of(own, reach.by)] = "solved"
    return found
