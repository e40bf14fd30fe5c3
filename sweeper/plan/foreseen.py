"""What is foreseen of searches that are asked together, before any pass: how far the settings do the same.

A decibel of gain is a decibel of loudness wherever it stands, less what is limited or compressed behind it; what a
stage does to the music follows nothing that stands behind it. All of it is a start only: passes correct it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sweeper.plan.reach import sign_of
from sweeper.plan.reach_terms import Direction, Search
from sweeper.quantities import quantity_of

#: How much of what the drive does to loudness another gain does, and how much of what an input trim does to a stage the
#: stage's ceiling does: nothing where the threshold is another control, all of it the other way round where it is the
#: threshold. By trial on models.
GAIN_SHARE, CEILING_SHARE = 0.8, -0.5
#: What a stage attenuates more for one dB of drive: between a gentle compressor's and a limiter's. By trial on models.
ATTENUATION_SLOPE = 0.6
ATTENUATIONS = ("attenuation_db", "attenuation_median_db", "attenuation_most_db")


@dataclass(frozen=True)
class Place:
    """Where a reach looks and turns. key: its target's. measured: the number of the stage looked at, None = the whole.

    turned: the number of the stage whose setting it solves. behind: that setting works behind the stage's plugin.
    """

    key: str
    measured: int | None
    turned: int
    behind: bool = False


def foreseen(searches: Sequence[Search], places: Sequence[Place]) -> tuple[Search, ...]:
    """The searches with what is foreseen of each other; a slope that was taught stays."""
    return tuple(
        replace(search, slope=_slope(search, place) if search.slope is None else search.slope,
                shares=tuple(_share(search, other, place, its) for other, its in zip(searches, places, strict=True)))
        for search, place in zip(searches, places, strict=True)
    )  # fmt: skip


def _slope(search: Search, place: Place) -> float | None:
    attenuates = place.key.rpartition(".")[2] in ATTENUATIONS
    return ATTENUATION_SLOPE * search.direction.value or None if attenuates and search.decibels else None


def _share(search: Search, other: Search, place: Place, its: Place) -> float | None:
    """How much of what its own setting does the other's does; None = nothing is known."""
    if place.measured is not None:
        if its.turned > place.measured or (its.turned == place.measured and its.behind):
            return 0.0
        own_ceiling = other.ceiling and search.decibels and its.turned == place.measured == place.turned
        return CEILING_SHARE * sign_of(search) if own_ceiling else None
    level = quantity_of(place.key).unit in ("LUFS", "dBFS") and search.decibels and not search.ceiling
    gain = other.decibels and not other.ceiling and other.direction is Direction.RAISE
    return GAIN_SHARE * sign_of(search) if level and gain and search is not other else None
