"""What one setting does to one measurement, with its uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sweeper.plan.importance import Importance
from sweeper.table.effects.additive import Doubles, Fit, fitted, places_of
from sweeper.table.effects.factors import Factor

#: What of a difference is none.
ROUNDING = 1e-9


@dataclass(frozen=True)
class Level:
    """A value of a setting and what is measured there on average over everything else.

    value: as read. variants: how many had it; None for a place on a trend. mean: in the measurement's unit.
    difference: from the mean over all values. half: of its 95 % interval, None where it cannot be told.
    """

    value: str
    variants: int | None
    mean: float
    difference: float
    half: float | None


@dataclass(frozen=True)
class Change:
    """From one value of a setting to another. half: of the 95 % interval; it and standard_error are None where no
    variant is left over to tell them from. in_order: from the setting's first value to its last, where these are an
    order (numbers, or two values); else from the value with the lowest mean to that with the highest.
    """

    start: str
    end: str
    difference: float
    standard_error: float | None
    half: float | None
    in_order: bool

    @property
    def stands_out(self) -> bool:
        """Whether it is larger than its uncertainty, and more than rounding."""
        return abs(self.difference) > max(self.half or 0.0, ROUNDING)


@dataclass(frozen=True)
class Effect:
    """What a setting does to a measurement. change: its largest; None where it cannot be told, `why` says why.

    variants: how many of those measured have the setting. importance: None where it cannot be told.
    """

    setting: str
    variants: int
    levels: tuple[Level, ...]
    change: Change | None
    why: str = ""
    importance: Importance | None = None


def effects_in(values: Doubles, factors: Sequence[Factor], groups: Sequence[int]) -> tuple[Fit, tuple[Effect, ...]]:
    """The fit of values (rows,), none of them missing, and each factor's effect in it. factors: of these rows."""
    told = [factor for factor in factors if _differs(factor)]
    fit = fitted(values, told, groups)
    found = {factor.name: _effect(fit, values, number, told, groups) for number, factor in enumerate(told)}
    return fit, tuple(found.get(factor.name) or _same(factor) for factor in factors)


def _differs(factor: Factor) -> bool:
    return len({at for at in factor.chosen if at is not None}) > 1


def _same(factor: Factor) -> Effect:
    had = sum(at is not None for at in factor.chosen)
    return Effect(factor.name, had, (), None, "it has one value only in what was measured" if had else
                  "it is heard in none of what was measured")  # fmt: skip


def _effect(fit: Fit, values: Doubles, number: int, factors: Sequence[Factor], groups: Sequence[int]) -> Effect:
    factor, part = factors[number], fit.parts[number]
    had = int(part.there.sum())
    weights = fit.level_weights(number)
    if not all(fit.tells(row) for row in weights):
        return Effect(factor.name, had, (), None, _tangled(values, number, factors, groups))
    levels = _levels(fit, factor, weights, float(values[part.there].mean()))
    return Effect(factor.name, had, levels, _change(fit, factor, levels, weights))


def _levels(fit: Fit, factor: Factor, weights: Doubles, mean: float) -> tuple[Level, ...]:
    names = [shown_number(at, factor.unit) for at in places_of(factor)] if factor.trend else list(factor.values)
    if factor.trend:
        names[0], names[-1] = factor.values[0], factor.values[-1]
    found = []
    for at, name in enumerate(names):
        one = fit.estimate(weights[at])
        half = None if one.standard_error is None else fit.half_width(one.standard_error)
        count = None if factor.trend else factor.chosen.count(at)
        found.append(Level(name, count, mean + one.value, one.value, half))
    return tuple(found)


def _change(fit: Fit, factor: Factor, levels: Sequence[Level], weights: Doubles) -> Change:
    """From the value with the lowest mean to that with the highest; the other way round where these are the last and
    the first. Its interval allows for the two having been picked, but for a straight trend, whose ends are given."""
    means = [level.mean for level in levels]
    start, end = means.index(min(means)), means.index(max(means))
    last = len(levels) - 1
    in_order = means[end] - means[start] <= ROUNDING or ({start, end} == {0, last} and factor.has_order)
    start, end = (0, last) if in_order else (start, end)
    one = fit.estimate(weights[end] - weights[start])
    picked = (3 if fit.bent else 1) if factor.trend else len(levels) * (len(levels) - 1) // 2
    half = None if one.standard_error is None else fit.half_width(one.standard_error, picked)
    return Change(levels[start].value, levels[end].value, one.value, one.standard_error, half, in_order)


def _tangled(values: Doubles, number: int, factors: Sequence[Factor], groups: Sequence[int]) -> str:
    """What a factor cannot be told apart from: those without which it could be told."""
    names = []
    for other, factor in enumerate(factors):
        if other != number:
            left = [one for at, one in enumerate(factors) if at != other]
            fit = fitted(values, left, groups)
            if all(fit.tells(row) for row in fit.level_weights(number - (other < number))):
                names.append(factor.name)
    what = " and ".join(names) if names else "the other settings"
    return f"these variants do not tell it apart from {what}"


def shown_number(value: float, unit: str) -> str:
    """A place on a trend, as values are written."""
    return f"{value:.3g} {unit}".strip()
