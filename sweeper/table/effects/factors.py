"""What differed between the variants of a run: every varied setting with its values, and who had which."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from sweeper.chain.model import Number, Switch, Travel
from sweeper.chain.values import setting_value
from sweeper.table.frame import merged
from sweeper.table.row import Row
from sweeper.units import Amount, same_unit

#: A step from where a setting is dialled: behind what the plugin showed there, "-22 dB (+5 % travel)", or by itself.
STEPS = (re.compile(r".+ \(([+-].+|as dialled)\)"), re.compile(r"dialled ([+-].+)"), re.compile(r"(as dialled)"))
AS_DIALLED = "as dialled"
#: A single setting with more values than this is read as a trend, though each of its values stands alone.
MOST_ALONE = 12
#: Frequencies and times are spread over octaves, not evenly, from this ratio on.
RATIO_UNITS, LEAST_RATIO = frozenset({"Hz", "kHz", "ms", "s"}), 10.0


@dataclass(frozen=True)
class Factor:
    """A setting that differed. values: as read, numbers from the lowest on, off before on, else as they came.

    chosen: of each variant which of them it had, None where it is not heard. numbers: the values as numbers in `unit`,
    () where they are none. trend: nearly every variant had a value of its own, so that it is read as a line and not
    value by value.
    """

    name: str
    values: tuple[str, ...]
    chosen: tuple[int | None, ...]
    numbers: tuple[float, ...] = ()
    unit: str = ""
    trend: bool = False

    def among(self, rows: Sequence[int]) -> Factor:
        """The same of some of the variants only; a trend keeps its range."""
        chosen = [self.chosen[row] for row in rows]
        if self.trend:
            return replace(self, chosen=tuple(chosen))
        kept = sorted({at for at in chosen if at is not None})
        return replace(
            self, values=tuple(self.values[at] for at in kept),
            chosen=tuple(None if at is None else kept.index(at) for at in chosen),
            numbers=tuple(self.numbers[at] for at in kept if self.numbers),
        )  # fmt: skip

    @property
    def has_order(self) -> bool:
        """Whether it is clear which way it goes from its first value to its last."""
        return bool(self.numbers) or len(self.values) == 2

    @property
    def by_ratio(self) -> bool:
        """Whether equal ratios of its numbers count as equal steps."""
        wide = self.trend and 0 < LEAST_RATIO * self.numbers[0] <= self.numbers[-1]
        return wide and self.unit in RATIO_UNITS


def factors_of(rows: Sequence[Row]) -> tuple[tuple[Factor, ...], tuple[str, ...]]:
    """The settings that differed among these rows, in the file's order, and the names of those that did not.

    Solved settings are none: where they went is an outcome. Nor is what differs between mixes only: each has it of its
    own, and whether a difference comes of that or of the music nobody can tell.
    """
    solved = {name for row in rows for name in row.solved_as}
    names = [name for name in merged([list(row.settings) for row in rows]) if name not in solved]
    found = [_factor(name, [row.settings.get(name) for row in rows]) for name in names]
    varied = [factor for factor in found if _differs(factor, rows)]
    fixed = tuple(factor.name for factor in found if factor not in varied)
    return tuple(_read(factor, len(varied) == 1) for factor in varied), fixed


def _differs(factor: Factor, rows: Sequence[Row]) -> bool:
    """Whether the variants of some mix have several of its values."""
    had = {(row.mix, at) for row, at in zip(rows, factor.chosen, strict=True) if at is not None}
    return len(had) > len({mix for mix, _ in had})


def _read(factor: Factor, alone: bool) -> Factor:
    """The factor, by trend where its values hardly come back."""
    had = sum(at is not None for at in factor.chosen)
    rare = len(factor.values) > MOST_ALONE if alone else had < 2 * len(factor.values)
    if not (factor.numbers and rare and len(factor.values) > 2):
        return factor
    return replace(factor, trend=True)


def _factor(name: str, texts: Sequence[str | None]) -> Factor:
    told = _named([text for text in texts if text is not None])
    values = tuple(dict.fromkeys(told.values()))
    numbers, unit = _numbers(values)
    order = sorted(range(len(values)), key=lambda at: numbers[at] if numbers else _is_on(values[at]))
    ordered = tuple(values[at] for at in order)
    chosen = tuple(None if text is None else ordered.index(told[text]) for text in texts)
    return Factor(name, ordered, chosen, tuple(numbers[at] for at in order if numbers), unit)


def _named(texts: Sequence[str]) -> dict[str, str]:
    """What each text is called: itself, or the step where plugins showed different things there, as alternatives do."""
    steps = {text: step for text in texts if (step := _step(text)) is not None}
    several = len(steps) > len(set(steps.values()))
    return {text: steps[text] if several and text in steps else text for text in texts}


def _step(text: str) -> str | None:
    """+5 % travel of "dialled +5 % travel"; None for what is no such step."""
    return next((match[1] for one in STEPS if (match := one.fullmatch(text))), None)


def _numbers(values: Sequence[str]) -> tuple[list[float], str]:
    """The values as numbers of one unit; [] where they are none, or do not compare."""
    amounts = [_amount(value) for value in values]
    unit = next((amount.unit for amount in amounts if amount is not None and amount.unit), "")
    numbers = [None if amount is None else same_unit(amount, unit) for amount in amounts]
    known = [number for number in numbers if number is not None]
    return (known, unit) if len(known) == len(values) else ([], "")


def _amount(text: str) -> Amount | None:
    """A value as a number; a step from where a setting is dialled as the step."""
    step = _step(text)
    if step == AS_DIALLED:
        return Amount(0.0, "")
    value = setting_value(step or text)
    if isinstance(value, Travel):
        return Amount(100 * value.fraction, "% travel")
    return Amount(value.value, value.unit) if isinstance(value, Number) else None


def _is_on(text: str) -> bool:
    value = setting_value(text)
    return isinstance(value, Switch) and value.on
