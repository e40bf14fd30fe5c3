"""One thing that an exploration chooses, and what a choice of it means for a processor."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from sweeper.chain.model import (
    OWN_SETTINGS,
    FromDialled,
    Number,
    SettingValue,
    Spacing,
    Stage,
    Travel,
    VaryAxis,
)
from sweeper.chain.spans import near
from sweeper.plan.examined import Examined, key_of
from sweeper.plan.names import setting_of
from sweeper.units import Amount, same_unit

#: Digits that a value between two ends is written with: more than anybody dials.
DIGITS = 4


@dataclass(frozen=True)
class Listed:
    """So many things to choose one of, by number. ordered: neighbours are alike, as numbers of one unit are.

    structural: it decides what is heard at all: an order, an alternative, a bypass.
    """

    name: str
    count: int
    ordered: bool = False
    structural: bool = False

    @property
    def is_single(self) -> bool:
        """There is nothing to choose."""
        return self.count == 1

    def share(self, number: float) -> float:
        """Where a number lies from the first, 0.0, to the last, 1.0."""
        return number / max(1, self.count - 1)

    def drawn(self, chance: Random) -> float:
        """One by chance."""
        return chance.randrange(self.count)


@dataclass(frozen=True)
class Between:
    """Any number from low to high, both included. log: even ratios are even steps."""

    name: str
    low: float
    high: float
    log: bool
    is_single = False

    def share(self, number: float) -> float:
        """Where a number lies from low, 0.0, to high, 1.0."""
        low, high, at = (math.log(v) if self.log else v for v in (self.low, self.high, number))
        return (at - low) / (high - low)

    def drawn(self, chance: Random) -> float:
        """One by chance."""
        share = chance.random()
        number = self.low * (self.high / self.low) ** share if self.log else self.low + share * (self.high - self.low)
        return min(self.high, max(self.low, number))


Parameter = Listed | Between


@dataclass(frozen=True)
class Dial:
    """One entry of `vary` on one processor. options: what is listed. unit: of the numbers between."""

    parameter: Parameter
    options: tuple[SettingValue, ...] = ()
    unit: str = ""

    def at(self, number: float) -> SettingValue:
        """The value that a choice means. Raises IndexError for a number that is not on the list."""
        if isinstance(self.parameter, Listed):
            return self.options[int(number)]
        rounded = float(f"{number:.{DIGITS}g}")
        return near(min(self.parameter.high, max(self.parameter.low, rounded)), self.unit)


def dial_of(axis: VaryAxis, choice: Stage, is_alternative: bool, examined: Examined) -> Dial:
    """An entry of `vary` on one processor. is_alternative: others stand there too, with settings of their own."""
    name = f"{axis.ref} ({choice.label})" if is_alternative else str(axis.ref)
    if axis.between is None:
        values, ordered = _in_order(axis.values)
        return Dial(Listed(name, len(values), ordered), values)
    steps = _steps(axis, choice, examined)
    if steps:
        return Dial(Listed(name, len(steps), ordered=True), steps)
    unit = axis.values[0].unit if isinstance(axis.values[0], Number) else "% travel"
    low, high = sorted(_numbers(axis.values) or ())
    return Dial(Between(name, low, high, axis.between is Spacing.LOG), unit=unit)


def _in_order(values: tuple[SettingValue, ...]) -> tuple[tuple[SettingValue, ...], bool]:
    """(the values, rising where they are numbers of one unit; whether they are)."""
    numbers = _numbers(values)
    if numbers is None:
        return values, False
    return tuple(values[place] for place in sorted(range(len(values)), key=lambda each: numbers[each])), True


def _steps(axis: VaryAxis, choice: Stage, examined: Examined) -> tuple[SettingValue, ...]:
    """The steps of a control from one end of a range to the other; () for a control without, or no control at all."""
    setting = setting_of(choice, axis.ref)
    if axis.ref.ride or setting in OWN_SETTINGS:
        return ()
    ends = [examined.found.get((key_of(choice), setting, axis.ref.side, value)) for value in axis.values]
    raws = [end.raw for end in ends if end is not None]
    every = next((end.steps for end in ends if end is not None), ())
    return tuple(Travel(raw, text) for raw, text in every if min(raws) <= raw <= max(raws))


def _numbers(values: Sequence[SettingValue]) -> list[float] | None:
    """The values as numbers of one unit; None where they are none."""
    plain = [value.offset if isinstance(value, FromDialled) else value for value in values]
    amounts = [Amount(v.value, v.unit) if isinstance(v, Number) else Amount(100 * v.fraction, "% travel")
               for v in plain if isinstance(v, Number | Travel)]  # fmt: skip
    if len(amounts) < len(values) or len({type(value) for value in values}) > 1:
        return None
    numbers = [same_unit(amount, amounts[0].unit) for amount in amounts]
    found = [number for number in numbers if number is not None]
    return found if len(found) == len(values) else None
