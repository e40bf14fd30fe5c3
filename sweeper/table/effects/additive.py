"""A measurement as the sum of what each setting adds, by least squares."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy

from sweeper.table.effects.factors import Factor

Doubles = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

#: What a factor's trend is read at, shares of its range.
PLACES = (0.0, 0.25, 0.5, 0.75, 1.0)
#: A trend is bent where so many variants are left over for each one.
LEFT_FOR_A_BEND = 10
#: Relative to the largest: singular values below it count as none; what the fit leaves below it is rounding.
RANK, ROUNDING = 1e-9, 1e-10
CONFIDENCE = 0.95


@dataclass(frozen=True)
class Estimate:
    """A difference found by the fit. standard_error: None where no variant is left over to tell it from."""

    value: float
    standard_error: float | None


@dataclass(frozen=True)
class Part:
    """The columns that are one factor's. there: the rows that have it.

    at_level: its columns, (levels, columns), as they are at each level, or at each of PLACES of a trend.
    """

    columns: slice
    there: Doubles
    at_level: Doubles


@dataclass(frozen=True)
class Fit:
    """A measurement fitted. left_over: degrees of freedom; spread: of the residuals, None where nothing is left over.

    unexplained: the share of its variation, mixes apart, that the sum does not explain; None likewise.
    bent: trends have a bend.
    """

    design: Doubles
    parts: tuple[Part, ...]
    solution: Doubles
    spanned: Doubles
    inverse: Doubles
    left_over: int
    spread: float | None
    unexplained: float | None
    bent: bool

    def level_weights(self, factor: int) -> Doubles:
        """(levels, columns): what to weigh the solution with, for each level against the mean over all who have it.

        A level's is the mean over these variants as if each had this level, and all else as it is.
        """
        part = self.parts[factor]
        rows = self.design[part.there]
        weights = np.tile(rows.mean(axis=0), (len(part.at_level), 1))
        weights[:, part.columns] = part.at_level
        found: Doubles = weights - rows.mean(axis=0)
        return found

    def tells(self, weights: Doubles) -> bool:
        """Whether the variants tell such a combination from every other."""
        missed = weights - weights @ self.spanned @ self.spanned.T
        return bool(np.abs(missed).max() <= 1e-6 * max(1.0, float(np.abs(weights).max())))

    def estimate(self, weights: Doubles) -> Estimate:
        """That combination of the solution."""
        value = float(weights @ self.solution)
        if self.spread is None:
            return Estimate(value, None)
        return Estimate(value, self.spread * math.sqrt(max(0.0, float(weights @ self.inverse @ weights))))

    def half_width(self, standard_error: float, compared: int = 1) -> float:
        """Half of the 95 % interval, by Student's t. compared: of how many this was picked (Bonferroni)."""
        tail = (1.0 - CONFIDENCE) / 2 / compared
        return -float(scipy.special.stdtrit(self.left_over, tail)) * standard_error


def fitted(values: Doubles, factors: Sequence[Factor], groups: Sequence[int]) -> Fit:
    """Fit values (rows,) by the factors, all of these rows; groups: which rows share a level of their own, as mixes do.

    Trends are bent where there are rows enough.
    """
    straight = _fitted(values, factors, groups, False)
    if not any(factor.trend for factor in factors):
        return straight
    bent = _fitted(values, factors, groups, True)
    return bent if bent.left_over >= LEFT_FOR_A_BEND * sum(factor.trend for factor in factors) else straight


def _fitted(values: Doubles, factors: Sequence[Factor], groups: Sequence[int], bent: bool) -> Fit:
    blocks = np.equal.outer(np.asarray(groups), np.unique(groups)).astype(np.float64)
    design, parts = blocks, []
    for factor in factors:
        there = np.array([at is not None for at in factor.chosen])
        own = _trend_at(factor, factor.numbers, bent) if factor.trend else np.eye(len(factor.values))
        own = own[[at for at in factor.chosen if at is not None]]
        at_level = _trend_at(factor, places_of(factor), bent) if factor.trend else np.eye(len(factor.values))
        # about their mean, so that a variant without the setting counts as one at the mean of it
        columns = np.zeros((len(values), own.shape[1]))
        columns[there] = own - own.mean(axis=0)
        parts.append(Part(slice(design.shape[1], design.shape[1] + own.shape[1]), there, at_level - own.mean(axis=0)))
        design = np.hstack((design, columns))
    for part in parts:  # who has a setting may differ from who has not; mostly that is another setting's doing
        if not _spans(design, part.there.astype(np.float64)):
            design = np.hstack((design, part.there[:, None]))
    return _solved(design, tuple(parts), values, blocks, bent)


def _spans(design: Doubles, column: Doubles) -> bool:
    return bool(np.abs(design @ np.linalg.lstsq(design, column)[0] - column).max() <= RANK)


def _solved(design: Doubles, parts: tuple[Part, ...], values: Doubles, blocks: Doubles, bent: bool) -> Fit:
    left, sizes, right = np.linalg.svd(design, full_matrices=False)
    rank = int(np.count_nonzero(sizes > RANK * sizes[0]))
    left, sizes, spanned = left[:, :rank], sizes[:rank], right[:rank].T
    solution = spanned @ ((left.T @ values) / sizes)
    inverse = (spanned / sizes**2) @ spanned.T
    left_over = len(values) - rank
    residual = values - design @ solution
    apart = values - blocks @ ((blocks.T @ values) / blocks.sum(axis=0))
    unexplained, spread = float(residual @ residual), None
    if np.abs(residual).max() <= ROUNDING * max(1.0, float(np.abs(values).max())):
        unexplained = 0.0
    if left_over:
        spread = math.sqrt(unexplained / left_over)
    varied = float(apart @ apart)
    share = unexplained / varied if left_over and varied > 0 else None
    return Fit(design, parts, solution, spanned, inverse, left_over, spread, share, bent)


def places_of(factor: Factor) -> tuple[float, ...]:
    """The numbers at PLACES of a trend's range; equal ratios apart where it is spread so."""
    low, high = factor.numbers[0], factor.numbers[-1]
    if factor.by_ratio:
        return (low, *(low * (high / low) ** share for share in PLACES[1:-1]), high)
    return (low, *(low + share * (high - low) for share in PLACES[1:-1]), high)


def _trend_at(factor: Factor, numbers: Sequence[float], bent: bool) -> Doubles:
    """Straight and, where bent, squared: columns of numbers that run from -1 to 1 over the factor's range."""
    scale = np.log(np.asarray([*numbers, factor.numbers[0], factor.numbers[-1]])) if factor.by_ratio else np.asarray(
        [*numbers, factor.numbers[0], factor.numbers[-1]])  # fmt: skip
    place = 2.0 * (scale[:-2] - scale[-2]) / (scale[-1] - scale[-2]) - 1.0
    return np.stack([place, place**2][: 1 + bent], axis=1)
