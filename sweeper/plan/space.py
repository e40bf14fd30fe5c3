"""What an exploration can choose from: the order of the inserts, alternatives, bypasses and values, as far as heard."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cached_property, partial
from random import Random

from sweeper.chain.model import Chain, SettingValue, Stage, Switch
from sweeper.chain.sequence import in_place
from sweeper.plan.examined import ChoiceKey, Examined, key_of
from sweeper.plan.names import BYPASS
from sweeper.plan.parameters import Between, Dial, Listed, Parameter, dial_of
from sweeper.plan.variants import Pick

#: Rounds in which every alternative, order and bypass is to come up once, for each of them.
COVER_ROUNDS = 4
#: What was chosen of every parameter that was asked for, by its name: a whole number for what is listed.
Point = Mapping[str, float]
#: Says what to take of a parameter.
Choose = Callable[[Parameter], float]


class Space:
    """Everything that a chain file leaves in doubt. parameters: by name.

    A parameter is asked for only where it is heard: the settings of an alternative, of a stage that is in, of a stage
    that is not bypassed.
    """

    def __init__(self, chain: Chain, examined: Examined) -> None:
        self._chain = chain
        self._orders = [in_place(chain.stages, chain.sequence, order) for order in chain.sequence or ((),)]
        self._dials = _dials(chain, examined)
        self._order = Listed("sequence", len(self._orders), structural=True)
        self._swaps = {stage.name: Listed(f"any of {stage.name}", len(stage.alternatives), structural=True)
                       for stage in chain.stages if stage.alternatives}  # fmt: skip
        self._switches = {number: Listed(str(axis.ref), len(axis.values), structural=True)
                          for number, axis in enumerate(chain.vary) if axis.ref.setting == BYPASS}  # fmt: skip
        dialled = (dial.parameter for dial in self._dials.values())
        every = (self._order, *self._swaps.values(), *self._switches.values(), *dialled)
        self.parameters: dict[str, Parameter] = {one.name: one for one in every if not one.is_single}

    @property
    def is_finite(self) -> bool:
        """Whether all combinations can be counted."""
        return not any(isinstance(one, Between) for one in self.parameters.values())

    @cached_property
    def is_conditional(self) -> bool:
        """Whether some parameters are asked for only where others are so chosen."""
        return len({frozenset(point) for point in self.cover()}) > 1

    def point(self, choose: Choose) -> Point:
        """What is chosen of every parameter that matters, each asked for after those that it hangs on."""
        found: dict[str, float] = {}

        def noted(parameter: Parameter) -> float:
            found[parameter.name] = choose(parameter)
            return found[parameter.name]

        self._walk(noted)
        return found

    def pick(self, point: Point) -> Pick:
        """What a point means. Raises ValueError for one that is not of this space."""
        try:
            return self._walk(lambda parameter: point[parameter.name])
        except (KeyError, IndexError) as exc:
            raise ValueError(f"{dict(point)} is not of this space") from exc

    def every(self) -> Iterator[Point]:
        """Every point of a finite space, what was asked for last changing fastest."""
        wanted: list[int] = []
        while True:
            chosen: list[tuple[int, int]] = []
            yield self.point(partial(_next, wanted, chosen))
            while chosen and chosen[-1][0] + 1 == chosen[-1][1]:
                chosen.pop()
            if not chosen:
                return
            wanted = [number for number, _ in chosen]
            wanted[-1] += 1

    def drawn(self, chance: Random) -> Point:
        """A point by chance alone."""
        return self.point(lambda parameter: parameter.drawn(chance))

    def cover(self) -> tuple[Point, ...]:
        """A few points in which every order, every alternative and every stage comes up; values are the first ones."""
        used: Counter[tuple[str, int]] = Counter()
        structural = [one for one in self.parameters.values() if isinstance(one, Listed) and one.structural]
        options = {(one.name, number) for one in structural for number in range(one.count)}

        def choose(parameter: Parameter) -> float:
            if isinstance(parameter, Between):
                return parameter.low
            if not parameter.structural:
                return 0
            number = min(range(parameter.count), key=lambda each: (used[parameter.name, each], each))
            used[parameter.name, number] += 1
            return number

        found: list[Point] = [self.point(choose)]
        for _ in range(COVER_ROUNDS * len(options)):
            if options <= used.keys():
                break
            found.append(self.point(choose))
        return tuple(found)

    def apart(self, one: Point, other: Point) -> tuple[int, float]:
        """(on how many parameters two points differ, how far the numbers among them lie apart, each at most by 1.0)."""
        differing = [name for name in {**one, **other} if one.get(name) != other.get(name)]
        distance = 0.0
        for name in differing:
            parameter = self.parameters[name]
            if name in one and name in other and (isinstance(parameter, Between) or parameter.ordered):
                distance += abs(parameter.share(one[name]) - parameter.share(other[name]))
        return len(differing), distance

    def _walk(self, choose: Choose) -> Pick:
        chain, values = self._chain, [axis.values[0] for axis in self._chain.vary]
        sequence = _taken(self._order, choose)
        stages = [chain.stages[number] for number in self._orders[sequence]]
        off = self._silent(stages, values, choose)
        choices = {stage.name: 0 for stage in chain.stages}
        for stage in stages:
            if stage.name in self._swaps and stage.name not in off:
                choices[stage.name] = _taken(self._swaps[stage.name], choose)
        heard = {stage.name: key_of(stage.choices[choices[stage.name]]) for stage in stages if stage.name not in off}
        for number, axis in enumerate(chain.vary):
            dial = self._dials.get((number, heard[axis.ref.stage])) if axis.ref.stage in heard else None
            if dial is not None:
                values[number] = dial.at(0 if dial.parameter.is_single else choose(dial.parameter))
        return Pick(sequence, tuple(choices[stage.name] for stage in chain.stages), tuple(values))

    def _silent(self, stages: Sequence[Stage], values: list[SettingValue], choose: Choose) -> set[str]:
        """The stages that are not heard; what is chosen of their bypasses goes into `values`. Buses come first."""
        off: set[str] = set()
        silent_buses: set[str] = set()
        for stage in sorted(stages, key=lambda each: not each.is_fader):
            if stage.bus in silent_buses and not stage.is_fader:
                off.add(stage.name)
                continue
            bypassed = stage.bypass
            for number, switch in self._switches.items():
                if self._chain.vary[number].ref.stage == stage.name:
                    values[number] = self._chain.vary[number].values[_taken(switch, choose)]
                    chosen = values[number]
                    bypassed = isinstance(chosen, Switch) and chosen.on
            if bypassed:
                off.add(stage.name)
                silent_buses |= {stage.bus} if stage.is_fader else set()
        return off


def _taken(parameter: Listed, choose: Choose) -> int:
    return 0 if parameter.is_single else int(choose(parameter))


def _next(wanted: Sequence[int], chosen: list[tuple[int, int]], parameter: Parameter) -> int:
    """What is wanted of a parameter, by how many were asked for before it; 0 beyond that. Noted in `chosen`."""
    assert isinstance(parameter, Listed)
    number = wanted[len(chosen)] if len(chosen) < len(wanted) else 0
    chosen.append((number, parameter.count))
    return number


def _dials(chain: Chain, examined: Examined) -> dict[tuple[int, ChoiceKey], Dial]:
    """What every entry of `vary` means on every processor that has it and may be heard, by its number; but bypasses."""
    return {
        (number, key_of(choice)): dial_of(axis, choice, bool(stage.alternatives), examined)
        for number, axis in enumerate(chain.vary)
        for stage in chain.stages
        if not _is_off_for_good(chain, stage)
        for choice in stage.choices
        if axis.ref.stage == stage.name and axis.ref.setting != BYPASS
        and (key_of(choice), axis.ref) not in examined.lacking
    }  # fmt: skip


def _is_off_for_good(chain: Chain, stage: Stage) -> bool:
    """Whether a stage is bypassed, by itself or with its bus, whatever is varied: as one mix alone may have it."""
    switched = {axis.ref.stage for axis in chain.vary if axis.ref.setting == BYPASS}
    holding = (one for one in chain.stages if one is stage or (one.is_fader and one.bus == stage.bus))
    return any(one.bypass and one.name not in switched for one in holding)
