"""How measurements follow settings that are turned together, as far as the passes made show it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sweeper.plan.reach import sign_of
from sweeper.plan.reach_bend import slope_after
from sweeper.plan.reach_terms import Search

#: Passes further off than this tell nothing of the slopes here, unless only a ceiling differs: in dB, or as a share of
#: another setting's way.
NEAR_DB, NEAR_SHARE = 3.0, 0.1
#: Moves smaller than this are half drowned in what two renders differ by anyway; in dB, or as a share of the way.
FINE_DB, FINE_SHARE = 0.2, 0.005
#: How much weight what was foreseen has against one pass nearby.
FORESIGHT = 0.1
#: How much of all moves has to be left, where settings were moved against each other, for a secant to tell anything.
LEAST_LEFT = 0.5
#: How far a cross slope may be wrong: for a setting in dB, or over the whole way of another.
DOUBT_PER_DB, DOUBT_PER_WAY = 0.3, 10.0
#: The true peak that a ceiling in dB lets through, past its own number, where the peaks stand at it (by trial).
OVER_DB = (-0.1, 3.0)


@dataclass(frozen=True)
class JointPass:
    """One render: where each setting stood, and the excess of every goal of each reach."""

    at: tuple[float, ...]
    excess: tuple[tuple[float, ...], ...]


def doubt(searches: Sequence[Search], number: int, other: int, result: JointPass) -> float:
    """How far a pass's measurement may be off for one unit that another setting was moved since.

    A peak that does not stand at its ceiling follows the drive a decibel a decibel; what is known to do nothing leaves
    no doubt.
    """
    if searches[number].share(other) == 0:
        return 0.0
    if not searches[other].decibels:
        return DOUBT_PER_WAY / searches[other].width
    free = searches[number].ceiling and not engaged(searches, number, result)
    return 1.0 if free else DOUBT_PER_DB


def engaged(searches: Sequence[Search], number: int, result: JointPass) -> bool:
    """Whether the peaks stand at a ceiling in a pass: close over its number."""
    search = searches[number]
    over = search.goals[0].value + result.excess[number][0] - result.at[number]
    return search.ceiling and OVER_DB[0] <= over <= OVER_DB[1]


def slopes(searches: Sequence[Search], passes: Sequence[JointPass], number: int, goal: int) -> tuple[float, ...]:
    """What one goal's excess gains for one unit of each setting, its own and the others', at the last pass.

    By least squares from the passes nearby, held to what is foreseen where they say little (ridge regression; Hoerl and
    Kennard 1970).
    """
    foreseen = np.array(_foreseen(searches, passes, number, goal))
    unit = np.array([fine(search) for search in searches])
    last = passes[-1]
    moments, gains = FORESIGHT * np.eye(len(searches)), np.zeros(len(searches))
    for p in passes[:-1]:
        moves = np.subtract(last.at, p.at)
        rise = last.excess[number][goal] - p.excess[number][goal] - foreseen @ moves
        if math.isfinite(rise) and _tells(searches, number, p, last):
            steps = moves / unit
            weight = 1 / (1 + steps @ steps)
            moments += weight * np.outer(steps, steps)
            gains += weight * rise * steps
    return tuple(float(slope) for slope in foreseen + np.linalg.solve(moments, gains) / unit)


def _tells(searches: Sequence[Search], number: int, result: JointPass, last: JointPass) -> bool:
    """Whether a pass tells of the slopes at the last: it is near, or only ceilings of other reaches differ.

    What a peak follows while it is free says nothing of what it follows at its ceiling.
    """
    if searches[number].ceiling and engaged(searches, number, result) != engaged(searches, number, last):
        return False
    moves = [there - here for there, here in zip(last.at, result.at, strict=True)]
    if math.hypot(*(move / nearby(search) for move, search in zip(moves, searches, strict=True))) <= 1:
        return True
    return all(abs(move) <= fine(search) for n, (move, search) in enumerate(zip(moves, searches, strict=True))
               if n == number or not search.ceiling)  # fmt: skip


def _foreseen(searches: Sequence[Search], passes: Sequence[JointPass], number: int, goal: int) -> list[float]:
    """The slopes by the last secant, by what the search was told of the other settings, and by what limiters do."""
    search = searches[number]
    own = _secant(searches, passes, number, goal)
    if goal > 0:
        held = [engaged(searches, n, passes[-1]) for n in range(len(searches))]
        return [own if n == number else _bound_follows(search, other, own, search.goals[goal].by_gain, held[n])
                for n, other in enumerate(searches)]  # fmt: skip
    found = []
    for n, other in enumerate(searches):
        share = 1.0 if n == number else search.share(n)
        if share is None and other.ceiling and search.decibels and not search.ceiling:
            found.append(_let_through(search, own, engaged(searches, n, passes[-1])))
        else:
            found.append(own * (share or 0.0))
    return found


def _bound_follows(search: Search, other: Search, own: float, by_gain: float, held: bool) -> float:
    """What a bound's excess is foreseen to gain for one unit of another setting: 0 but for a ceiling behind a gain.

    Drive and ceiling raised by the same are a gain on the whole; a threshold is made up to the ceiling.
    """
    if not (other.ceiling and search.decibels and not search.ceiling and math.isfinite(by_gain)):
        return 0.0
    if sign_of(search) < 0:
        return by_gain
    return by_gain - own if held else 0.0


def _let_through(search: Search, own: float, held: bool) -> float:
    """What loudness is foreseen to gain for one dB of the ceiling.

    A threshold that makes it louder when lowered is made up to the ceiling: all of it. Else what the drive does not
    gain at the ceiling, and nothing while the peaks do not stand at it.
    """
    if sign_of(search) < 0:
        return 1.0
    return min(max(1.0 - abs(own), 0.0), 1.0) if held else 0.0


def _secant(searches: Sequence[Search], passes: Sequence[JointPass], number: int, goal: int) -> float:
    """One goal's slope from the last pass to the latest before it that has its setting elsewhere; else as foreseen.

    What the other settings were moved counts as a move of its own, as far as they are known to do the same.
    """
    search, last = searches[number], passes[-1]
    for p in reversed(passes[:-1] if not search.ceiling else ()):
        moves = [last.at[n] - p.at[n] for n in range(len(searches))]
        alike = [move if n == number else (search.share(n) or 0.0) * move for n, move in enumerate(moves)]
        run, rise = sum(alike), last.excess[number][goal] - p.excess[number][goal]
        if abs(run) > max(fine(search), LEAST_LEFT * sum(map(abs, alike))) and math.isfinite(rise):
            return _here(search, run, rise) if goal == 0 else rise / run
    if goal > 0:
        return 0.0
    return search.slope or (float(sign_of(search)) if search.decibels else 0.0)


def _here(search: Search, run: float, rise: float) -> float:
    """The slope at the far end of a secant, in dB, where it gains less and less: along a limiter's bend."""
    lost = abs(run) - abs(rise)
    if not search.decibels or not 0 < lost < abs(run) / 2:
        return rise / run
    return math.copysign(max(slope_after(lost), 0.2), rise * run)


def nearby(search: Search) -> float:
    """The move of its setting within which slopes hold, in its unit."""
    return NEAR_DB if search.decibels else NEAR_SHARE * search.width


def fine(search: Search) -> float:
    """The move of its setting that tells something, in its unit."""
    return FINE_DB if search.decibels else FINE_SHARE * search.width
