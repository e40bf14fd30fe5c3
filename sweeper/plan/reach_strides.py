"""How far a search for one setting goes past the passes that it has, and which way. Pure as `plan/reach.py`."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from sweeper.plan.reach_bend import KNEE_DB, drive_for, knee_of
from sweeper.plan.reach_terms import Direction, Pass, Search

#: A first step where nothing else is known, as a share of the setting's way.
FIRST_SHARE = 0.1
#: A change smaller than this is no change.
LEAST_RISE = 1e-3
#: A change smaller than this share of what counts as met may be chance, and shows no direction and no top.
CHANCE = 0.2
#: How far past the foreseen place a step outwards goes, so that it brackets the goal.
OVERSTEP = 1.05
#: Up to how many times the straight step a step along the bend may go.
MOST_BENT = 2.5
#: The least and the most that a taught slope is believed, for a setting in dB.
TAUGHT_SLOPES = (0.1, 2.0)


def sign_of(search: Search) -> int:
    """Which way of the setting raises the excess: as told, as the passes show, or as taught; 0 = not known.

    A ceiling in dB is taken to let more through when it is raised.
    """
    if search.direction is not Direction.UNKNOWN:
        return int(search.direction.value)
    for earlier, later in itertools.pairwise(search.passes):
        rise, way = worst(later) - worst(earlier), later.at - earlier.at
        if way and abs(rise) > max(LEAST_RISE, CHANCE * search.goals[0].within):
            return 1 if rise * way > 0 else -1
    return int(math.copysign(1, search.slope)) if search.slope else int(search.ceiling)


def worst(result: Pass) -> float:
    """The largest excess of a pass."""
    return max(result.excess)


def stride(search: Search, nearest: Sequence[Pass]) -> float:
    """How far to go on, in the setting's unit: to where a goal is met by its last slope, else by a fair guess."""
    outermost = nearest[0]
    if worst(outermost) > 0:
        return _stride_back(search, nearest)
    strides = []
    if (bent := _bent_stride(search, outermost)) is not None:
        strides.append(bent)
    for number, (goal, excess) in enumerate(zip(search.goals, outermost.excess, strict=True)):
        away = abs(goal.aim - excess)
        if not math.isfinite(away) or (number == 0 and strides):
            continue
        if len(nearest) >= 2:
            run = abs(outermost.at - nearest[1].at)
            slope = abs(excess - nearest[1].excess[number]) / run
            if slope * search.width > LEAST_RISE:
                strides.append(min(OVERSTEP * away / slope, 4 * run + 0.02 * search.width))
        elif number == 0:
            strides += _first_stride(search, away)
        elif search.decibels and math.isfinite(goal.by_gain):
            strides.append(away)
    if strides:
        return min(strides)
    return max(FIRST_SHARE * search.width, *(4 * abs(outermost.at - p.at) for p in nearest))


def _stride_back(search: Search, nearest: Sequence[Pass]) -> float:
    """How far less to drive: until nothing is passed any more, by the last slopes; a decibel a decibel where there are
    none.
    """
    outermost, strides = nearest[0], []
    for number, (goal, excess) in enumerate(zip(search.goals, outermost.excess, strict=True)):
        away = excess - goal.aim
        if excess <= 0 or not math.isfinite(away):
            continue
        run = abs(outermost.at - nearest[1].at) if len(nearest) >= 2 else 0.0
        slope = (nearest[1].excess[number] - excess) / run if run else 0.0
        if slope * search.width > LEAST_RISE:
            strides.append(min(OVERSTEP * away / slope, 4 * run + 0.02 * search.width))
        elif run:
            strides.append(max(FIRST_SHARE * search.width, 4 * run))
        else:
            strides += _first_stride(search, away) if number == 0 else [away] if search.decibels else []
    return max(strides, default=FIRST_SHARE * search.width)


def _first_stride(search: Search, away: float) -> list[float]:
    """As far as a taught slope says, or a decibel a decibel; nothing where neither says anything."""
    if search.slope and sign_of(search) * search.slope > 0:
        least, most = TAUGHT_SLOPES if search.decibels else (LEAST_RISE / search.width, math.inf)
        return [away / min(max(abs(search.slope), least), most)]
    return [away] if search.decibels else []


def _bent_stride(search: Search, outermost: Pass) -> float | None:
    """How far a setting in dB goes on along a limiter's bend; None where the passes show no such bend.

    What has been lost since the least drive tells how far up the knee the outermost pass stands.
    """
    sign = sign_of(search)
    away = search.goals[0].aim - outermost.excess[0]
    lesser = sorted((p for p in search.passes if sign * p.at < sign * outermost.at), key=lambda p: sign * p.at)
    if not search.decibels or not lesser or not math.isfinite(away + lesser[0].excess[0]) or away <= 0:
        return None
    run, gained = _between_passes(lesser[0], outermost)
    if not 0.5 * run < gained < run:
        return None
    last_run, last_gained = _between_passes(lesser[-1], outermost)
    knee = knee_of(last_run, last_gained, run - gained) if len(lesser) > 1 else KNEE_DB
    straight = away * last_run / last_gained if last_gained > 0 else math.inf
    bent = drive_for(away, run - gained, knee)
    if len(lesser) > 1 and not math.isfinite(bent):
        return min(OVERSTEP * straight, search.width)
    return min(bent, MOST_BENT * straight, search.width)


def _between_passes(before: Pass, after: Pass) -> tuple[float, float]:
    return abs(after.at - before.at), after.excess[0] - before.excess[0]
