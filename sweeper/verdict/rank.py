"""Ranking: what is inside the limits and on target comes first, then what is preferred."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from sweeper.chain.model import Preference
from sweeper.quantities import quantity_of
from sweeper.verdict.front import Merits, fronts

#: Of what is preferred, so much counts as one value between trade-off fronts, by the unit of differences: no reach
#: lands closer. Ours.
COARSE = {"dB": 0.1, "LU": 0.1, "ms": 0.01, "": 0.01, "%": 0.01}


@dataclass(frozen=True)
class Candidate:
    """A variant as far as its rank goes. fits: on target and inside every limit. done: it was rendered."""

    id: str
    done: bool
    fits: bool
    values: Mapping[str, float | None]


class Place(NamedTuple):
    """Where a candidate came. front: of several preferences, 1 = the trade-off front; None = not ranked so."""

    id: str
    rank: int | None
    front: int | None


def ranked(candidates: Sequence[Candidate], prefer: Sequence[Preference]) -> tuple[Place, ...]:
    """Every candidate with its rank, best first.

    Without preferences the file's order stays and nobody has a rank. With one, it decides. With several, their
    trade-off fronts come one after the other, and within a front the first preference decides, a later one where the
    earlier ones are equal. Those that do not fit follow without a rank, the failed ones last. A measurement that does
    not exist ranks behind every one that does.
    """
    if not prefer:
        return tuple(Place(candidate.id, None, None) for candidate in candidates)
    fitting = [c for c in candidates if c.fits]
    front = {}
    if len(prefer) > 1:
        coarse = [_coarse(merits(c.values, prefer), prefer) for c in fitting]
        front = dict(zip((c.id for c in fitting), fronts(coarse), strict=True))
    ordered = sorted(candidates, key=lambda c: (not c.done, not c.fits, front.get(c.id, 0), merits(c.values, prefer)))
    return tuple(Place(c.id, place if c.fits else None, front.get(c.id)) for place, c in enumerate(ordered, 1))


def _coarse(found: Merits, prefer: Sequence[Preference]) -> Merits:
    """Merits in steps of what counts as one value."""
    steps = (COARSE[quantity_of(wish.key).difference_unit] for wish in prefer)
    return tuple(one if math.isinf(one) else float(round(one / step)) for one, step in zip(found, steps, strict=True))


def merits(values: Mapping[str, float | None], prefer: Sequence[Preference]) -> Merits:
    """One number for each preference, the smaller the better; infinity where there is no measurement."""
    found = []
    for preference in prefer:
        value = values.get(preference.key)
        found.append(math.inf if value is None else -value if preference.highest else value)
    return tuple(found)
