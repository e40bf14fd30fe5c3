"""The smallest move of settings that are turned together after which every target counts as met, by the slopes here."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sweeper.plan.joint_slopes import JointPass, fine, nearby, slopes
from sweeper.plan.reach_terms import Search

#: How much of what counts as met is kept free on either side, as slopes are not exact.
MARGIN = 0.25
#: How often each target is gone up to in turn, and how near counts as there, as a share of what counts as met.
ROUNDS, THERE = 200, 1e-3


def smallest_step(searches: Sequence[Search], passes: Sequence[JointPass]) -> tuple[float, ...] | None:
    """Where the settings go from the last pass; None where the slopes lead nowhere near.

    Each target is a slab between two planes in the space of the settings, measured in the moves that tell something.
    The nearest point of one after another is gone to until all hold (Kaczmarz 1937; Agmon 1954 for inequalities).
    """
    last, unit = passes[-1], np.array([fine(search) for search in searches])
    rows = np.array([slopes(searches, passes, n, 0) for n in range(len(searches))]) * unit
    goals = [search.goals[0] for search in searches]
    widths = np.array([goal.most + goal.within for goal in goals])
    middles = np.array([goal.aim for goal in goals])
    found = np.array([excess[0] for excess in last.excess])
    squares = np.square(rows).sum(axis=1)
    if not (np.isfinite(found).all() and np.isfinite(rows).all() and (squares > 0).all()):
        return None
    move, half = np.zeros(len(searches)), (0.5 - MARGIN) * widths
    for _ in range(ROUNDS):
        for row, square, excess, middle, most in zip(rows, squares, found, middles, half, strict=True):
            off = excess + row @ move - middle
            move -= row / square * (off - np.clip(off, -most, most))
    left = np.abs(found + rows @ move - middles) - half
    far = [nearby(search) for search in searches]
    if (left > THERE * widths).any() or (np.abs(move * unit) > far).any():
        return None
    at = np.array(last.at) + move * unit
    return tuple(float(min(max(a, s.low), s.high)) for a, s in zip(at, searches, strict=True))
