"""One stage of a variant: set as the chain file says, and as what was chosen for it says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sweeper.chain.model import (
    OWN_SETTINGS,
    Chain,
    FromDialled,
    Number,
    Ride,
    SettingRef,
    SettingValue,
    Stage,
    Switch,
    Travel,
    VaryAxis,
)
from sweeper.chain.own_settings import own_dialled, own_range
from sweeper.host.setup import Dialled, RideSetup, StageSetup
from sweeper.plan.examined import Examined, key_of
from sweeper.plan.names import BYPASS, amount_of, setting_of, value_of
from sweeper.plan.questions import sides_of
from sweeper.units import folded


@dataclass(frozen=True)
class Heard:
    """A stage as set in one variant.

    choice: the stage of the chain file, or its alternative. axes: the entries of `vary`, by number, that are heard in
    it. sound: a number that stages alike in everything heard share; None for a bypassed one.
    """

    setup: StageSetup
    choice: Stage
    axes: frozenset[int]
    sound: int | None


def without_buses_off(heard: Sequence[Heard]) -> list[Heard]:
    """The stages with those of a bus whose fader is bypassed bypassed too: nothing of them is heard."""
    off = {one.setup.bus for one in heard if one.setup.is_fader and one.setup.bypass}
    return [
        replace(one, setup=replace(one.setup, bypass=True), axes=frozenset(), sound=None)
        if one.setup.bus in off and not one.setup.is_fader else one
        for one in heard
    ]  # fmt: skip


class Setups:
    """The stages of a chain, each made once for every choice of its own values."""

    def __init__(self, chain: Chain, examined: Examined) -> None:
        self._chain = chain
        self._examined = examined
        self._axes = [tuple(n for n, axis in enumerate(chain.vary) if axis.ref.stage == s.name) for s in chain.stages]
        self._made: dict[tuple[int, int, tuple[SettingValue, ...]], Heard] = {}
        self._sounds: dict[object, int] = {}

    def heard(self, stage: int, choice: int, values: tuple[SettingValue, ...]) -> Heard:
        """A stage by its number in the chain. choice: which of its alternatives; values: of every entry of `vary`."""
        own = tuple([values[number] for number in self._axes[stage]])
        key = (stage, choice, own)
        if key not in self._made:
            self._made[key] = self._make(self._chain.stages[stage].choices[choice], self._axes[stage], own)
        return self._made[key]

    def _make(self, choice: Stage, axes: tuple[int, ...], values: tuple[SettingValue, ...]) -> Heard:
        setup = self._base(choice)
        heard = set()
        for number, chosen in zip(axes, values, strict=True):
            axis = self._chain.vary[number]
            if axis.ref.setting == BYPASS and isinstance(chosen, Switch):
                setup = replace(setup, bypass=chosen.on)
            elif (key_of(choice), axis.ref) in self._examined.lacking:
                continue
            else:
                for setting in self._dialled(choice, axis, chosen):
                    setup = setup.with_setting(setting)
            heard.add(number)
        if setup.bypass:
            heard = {number for number in heard if self._chain.vary[number].ref.setting == BYPASS}
        return Heard(setup, choice, frozenset(heard), self._sound(setup))

    def _base(self, choice: Stage) -> StageSetup:
        """A stage as the chain file sets it, before `vary`."""
        lacking, key = self._examined.lacking, key_of(choice)
        settings = tuple(self._found(choice, a.name, a.side, a.value) for a in choice.settings
                         if (key, SettingRef(choice.name, a.name, a.side)) not in lacking)  # fmt: skip
        rides = tuple(self._ride(choice, ride) for ride in self._chain.rides if ride.ref.stage == choice.name)
        return StageSetup(
            name=choice.name, path=self._examined.paths[key_of(choice)], state=choice.state, channels=choice.channels,
            settings=settings, input_trim_db=choice.input_trim_db, output_trim_db=choice.output_trim_db,
            bypass=choice.bypass, label=choice.label, output=choice.output, blend=choice.blend, latency=choice.latency,
            tail_s=choice.tail_s, instances=choice.instances, inverted=choice.inverted, outside=choice.outside,
            bus=choice.bus, is_fader=choice.is_fader, rides=rides,
        )  # fmt: skip

    def _ride(self, choice: Stage, ride: Ride) -> RideSetup:
        """A ride of one processor's own setting; where its stretches are, only a mix tells."""
        asked = amount_of(choice, ride.ref, ride.amount, ride.relative)
        name = setting_of(choice, ride.ref)
        found = self._examined.found.get((key_of(choice), name, ride.ref.side, asked))
        amount = asked.offset if isinstance(asked, FromDialled) else asked
        return RideSetup(ride.name, found.name if found else name, ride.ref.side, amount, ride.relative, (),
                         ride.ramp_s)  # fmt: skip

    def _dialled(self, choice: Stage, axis: VaryAxis, value: SettingValue) -> list[Dialled]:
        ref = axis.ref
        if ref.ride:
            asked = amount_of(choice, ref, value, ref.word == "by")
            amount = asked.offset if isinstance(asked, FromDialled) else asked
            return [Dialled(setting_of(choice, ref), ref.side, amount, ride=ref.ride)]
        setting, value = setting_of(choice, ref), value_of(choice, ref, value)
        if axis.between is not None:
            return [self._between(choice, axis, setting, value)]
        if not isinstance(value, FromDialled):
            return [self._found(choice, setting, ref.side, value)]
        if setting in OWN_SETTINGS:
            assert isinstance(value.offset, Number)
            goal = own_dialled(choice, setting) + value.offset.value
            return [Dialled(setting, "", Number(goal, own_range(setting, choice.is_fader).unit, value.text))]
        found = [self._found(choice, setting, side, value) for side in sides_of(choice, ref)]
        return [replace(found[0], side=ref.side)] if len({one.raw for one in found}) == 1 else found

    def _between(self, choice: Stage, axis: VaryAxis, setting: str, value: SettingValue) -> Dialled:
        """A value of a range: the plugin was asked about its ends, and shows where any other is once it is set."""
        end = self._examined.found.get((key_of(choice), setting, axis.ref.side, axis.values[0]))
        raw = value.fraction if end is not None and isinstance(value, Travel) else None
        return Dialled(end.name if end is not None else setting, axis.ref.side, value, raw)

    def _found(self, choice: Stage, name: str, side: str, value: SettingValue) -> Dialled:
        """A setting under the control's own name, at the position that was found for it."""
        found = self._examined.found.get((key_of(choice), name, side, value))
        if found is None:
            return Dialled(name, side, value)
        absolute = Travel(found.raw, value.text) if isinstance(value, FromDialled) else value
        return Dialled(found.name, side, absolute, found.raw)

    def _sound(self, setup: StageSetup) -> int | None:
        """The number of everything that is heard of a stage; its name and label are not."""
        if setup.bypass:
            return None
        own = dict(zip(OWN_SETTINGS, (setup.input_trim_db, setup.output_trim_db, 100 * setup.blend), strict=True))
        made: dict[tuple[str, str], object] = {}
        for setting in setup.settings:
            if setting.name in OWN_SETTINGS:
                own[setting.name] = setting.value.value if isinstance(setting.value, Number) else 0.0
            else:
                for side in (setting.side,) if setting.side else setup.channels.sides:
                    made[(folded(setting.name), side)] = setting.value if setting.raw is None else setting.raw
        key = (setup.path, setup.state, setup.channels, tuple(own.values()), tuple(made.items()), setup.latency,
               setup.tail_s, setup.inverted, setup.outside, setup.outside and setup.name, setup.bus,
               setup.rides)  # fmt: skip
        return self._sounds.setdefault(key, len(self._sounds))
