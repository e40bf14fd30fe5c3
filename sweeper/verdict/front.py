"""The trade-off fronts of several preferences: what nothing else beats, what only that beats, and so on.

Source: Pareto dominance; the sorting into fronts is the non-dominated sorting of Deb, Pratap, Agarwal and Meyarivan, "A
fast and elitist multiobjective genetic algorithm: NSGA-II" (2002), done in the order of the first merit, in which
nobody is dominated by who comes later.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

#: One number for each preference, the smaller the better; infinity where there is no measurement.
Merits = tuple[float, ...]


def dominates(one: Merits, other: Merits) -> bool:
    """Whether it is at least as good in every preference, and better in one."""
    return one != other and all(a <= b for a, b in zip(one, other, strict=True))


def fronts(merits: Sequence[Merits]) -> tuple[int, ...]:
    """Of each the number of its front, counted from 1. Those with a merit missing come behind all that have theirs."""
    found = [0] * len(merits)
    last = 0
    for missing in (False, True):
        numbers = [n for n, one in enumerate(merits) if any(map(math.isinf, one)) is missing]
        sorted_in: list[list[Merits]] = []
        for number in sorted(numbers, key=lambda n: merits[n]):
            one = merits[number]
            front = next((f for f in sorted_in if not any(dominates(other, one) for other in reversed(f))), None)
            if front is None:
                front = []
                sorted_in.append(front)
            front.append(one)
            found[number] = last + 1 + next(n for n, f in enumerate(sorted_in) if f is front)
        last += len(sorted_in)
    return tuple(found)
