"""Ranking: what is inside the limits and on target comes first, then what is preferred."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sweeper.chain.model import Preference


@dataclass(frozen=True)
class Candidate:
    """A variant as far as its rank goes. fits: on target and inside every limit. done: it was rendered."""

    id: str
    done: bool
    fits: bool
    values: Mapping[str, float | None]


def ranked(candidates: Sequence[Candidate], prefer: Sequence[Preference]) -> tuple[tuple[str, int | None], ...]:
    """Every candidate's id with its rank, best first.

    Without preferences the file's order stays and nobody has a rank. With them the first preference counts
    most, a later one only where the earlier ones are equal; those that do not fit follow without a rank,
    the failed ones last. A measurement that does not exist ranks behind every one that does.
    """
    if not prefer:
        return tuple((candidate.id, None) for candidate in candidates)
    ordered = sorted(candidates, key=lambda c: (not c.done, not c.fits, _merit(c, prefer)))
    return tuple((c.id, place if c.fits else None) for place, c in enumerate(ordered, 1))


def _merit(candidate: Candidate, prefer: Sequence[Preference]) -> tuple[float, ...]:
    merits = []
    for preference in prefer:
        value = candidate.values.get(preference.key)
        merits.append(math.inf if value is None else -value if preference.highest else value)
    return tuple(merits)
