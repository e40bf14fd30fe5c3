"""Solving one setting for a loudness, by asking and telling. Pure: renders nothing, knows no plugin.

Each rendered pass is told as the excess of every goal: how far the measurement lies past its goal, in its own
unit, growing with the drive. The largest excess decides. A root is bracketed and closed by the secant; what
is proposed always lies strictly inside the bracket. Some limiters come out quieter again when driven very hard:
the bracket is always the one with the least drive.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum

#: Passes after which the closest is taken.
MOST_PASSES = 16
#: A first step where nothing else is known, as a share of the setting's way.
FIRST_SHARE = 0.1
NO_FINER = "the setting has no finer step"
#: A change smaller than this is no change.
LEAST_RISE = 1e-3
#: How far past the foreseen place a step outwards goes, so that it brackets the goal.
OVERSTEP = 1.05
#: The top of a hump is known when its neighbours are this near, as a share of the setting's way.
TOP_SHARE = 0.02


class Direction(Enum):
    """Which way of the setting makes more of it."""

    RAISE = 1
    LOWER = -1
    UNKNOWN = 0


@dataclass(frozen=True)
class Goal:
    """One thing that the drive is measured by. within: how close counts as on it, in its own unit.

    one_sided: a floor or ceiling that may not be passed; it counts as met up to `within` inside it.
    """

    name: str
    within: float
    one_sided: bool


@dataclass(frozen=True)
class Pass:
    """One render: where the setting stood, and the excess of every goal, in the goals' order."""

    at: float
    excess: tuple[float, ...]


@dataclass(frozen=True)
class Search:
    """What is known so far. The setting runs from low to high; start is where it stands at first.

    decibels: the setting is in dB, so that a first guess of one dB a decibel is fair. steps: the values that a
    stepped setting has; () = any.
    """

    goals: tuple[Goal, ...]
    low: float
    high: float
    start: float
    direction: Direction
    decibels: bool
    passes: tuple[Pass, ...] = ()
    steps: tuple[float, ...] = ()


class Ending(Enum):
    """How a search ends."""

    ON_TARGET = "on target"
    STOPPED = "stopped as asked"
    OUT_OF_REACH = "out of reach"


@dataclass(frozen=True)
class Landed:
    """The search is over. chosen: the pass to keep. why: the condition, or the end, that stopped it; else ""."""

    chosen: Pass
    ending: Ending
    why: str = ""


def tell(search: Search, result: Pass) -> Search:
    """The search with one more pass."""
    return replace(search, passes=(*search.passes, result))


def ask(search: Search) -> float | Landed:
    """The setting to render next, or where the search landed."""
    if not search.passes:
        return _inside(search, search.start)
    if any(excess == -math.inf for goal, excess in zip(search.goals, search.passes[0].excess, strict=True)
           if not goal.one_sided):  # fmt: skip
        return Landed(search.passes[0], Ending.OUT_OF_REACH, "it has no loudness: silence, or shorter than 400 ms")
    landed = _landed(search)
    if landed is not None:
        return landed
    if not search.steps and len(search.passes) >= 2 and search.passes[-1].at == search.passes[-2].at:
        return _closest(search, NO_FINER)
    if len(search.passes) >= MOST_PASSES:
        return _closest(search, f"no closer after {MOST_PASSES} passes")
    proposal = _next(search)
    return _on_a_step(search, proposal) if search.steps and not isinstance(proposal, Landed) else proposal


def _on_a_step(search: Search, proposal: float) -> float | Landed:
    """The untried step nearest to the proposal, on the way that the passes leave open."""
    low, high = _open_way(search)
    tried = {p.at for p in search.passes}
    open_steps = [step for step in search.steps if low <= step <= high and step not in tried]
    if not open_steps:
        return _closest(search, NO_FINER)
    return min(open_steps, key=lambda step: abs(step - proposal))


def _open_way(search: Search) -> tuple[float, float]:
    """The stretch of the setting in which the goal can still lie: in the bracket, or beyond what is known."""
    sign = _sign(search)
    if sign == 0:
        return search.low, search.high
    tried = sorted(search.passes, key=lambda p: sign * p.at)
    over = next((n for n, p in enumerate(tried) if _worst(p) > 0), None)
    ends = [search.low, search.high] if sign > 0 else [search.high, search.low]
    if over is not None:
        ends[1] = tried[over].at
        ends[0] = tried[over - 1].at if over else ends[0]
    else:
        ends[0] = max(tried, key=_worst).at
    return min(ends), max(ends)


def _inside(search: Search, at: float) -> float:
    return min(max(at, search.low), search.high)


def _worst(result: Pass) -> float:
    return max(result.excess)


def _landed(search: Search) -> Landed | None:
    """On the target itself, or else at the condition that stops the drive before it."""
    last = search.passes[-1]
    if any(excess > (0.0 if g.one_sided else g.within) for g, excess in zip(search.goals, last.excess, strict=True)):
        return None
    for goal, excess in zip(search.goals, last.excess, strict=True):
        if not goal.one_sided and excess >= -goal.within:
            return Landed(last, Ending.ON_TARGET)
    for number, goal in enumerate(search.goals):
        if goal.one_sided and last.excess[number] >= -goal.within and _would_break(search, number):
            return Landed(last, Ending.STOPPED, goal.name)
    return None


def _would_break(search: Search, number: int) -> bool:
    """Whether more drive, on the way to the target, passes a bound that the last pass is near.

    Known from a pass further on that broke it; else foreseen from how it has moved since the pass before.
    """
    last, sign = search.passes[-1], _sign(search)
    if any(sign * p.at > sign * last.at and p.excess[number] > 0 for p in search.passes):
        return True
    lesser = [p for p in search.passes if sign * p.at < sign * last.at]
    if not lesser:
        return False
    near = max(lesser, key=lambda p: sign * p.at)
    moved = last.excess[number] - near.excess[number]
    left = min((-e for g, e in zip(search.goals, last.excess, strict=True) if not g.one_sided), default=0.0)
    gained = min((e - f for g, e, f in zip(search.goals, last.excess, near.excess, strict=True) if not g.one_sided),
                 default=0.0)  # fmt: skip
    return moved > LEAST_RISE and gained > LEAST_RISE and last.excess[number] + moved * left / gained > 0


def _next(search: Search) -> float | Landed:
    """Inside the bracket where there is one; past the hardest drive tried; or round the top of a hump."""
    sign = _sign(search)
    if sign == 0:
        return _try_a_way(search)
    tried = sorted(search.passes, key=lambda p: sign * p.at)  # from the least drive to the most
    over = next((n for n, p in enumerate(tried) if _worst(p) > 0), None)
    if over is not None:
        return _between(search, tried[over - 1], tried[over]) if over else _backwards(search, tried[:2], -sign)
    best = max(range(len(tried)), key=lambda n: _worst(tried[n]))
    if best == len(tried) - 1:
        return _onwards(search, tried[: -3 : -1], sign)
    return _round_the_top(search, tried, best)


def _sign(search: Search) -> int:
    """Which way of the setting raises the excess: as told, or as the passes show; 0 = not known."""
    if search.direction is not Direction.UNKNOWN:
        return int(search.direction.value)
    for earlier, later in itertools.pairwise(search.passes):
        rise, way = _worst(later) - _worst(earlier), later.at - earlier.at
        if way and abs(rise) > LEAST_RISE:
            return 1 if rise * way > 0 else -1
    return 0


def _try_a_way(search: Search) -> float | Landed:
    """Nothing says which way to go: one step, to the side with more room; a flat answer ends the search."""
    if len(search.passes) >= 2:
        return _closest(search, "the setting does not move it")
    at = search.passes[0].at
    way = 1 if search.high - at >= at - search.low else -1
    return _inside(search, at + way * FIRST_SHARE * (search.high - search.low))


def _between(search: Search, below: Pass, above: Pass) -> float | Landed:
    width = abs(above.at - below.at)
    if width <= 1e-6 * (search.high - search.low):
        return _closest(search, NO_FINER)
    guess = (below.at + above.at) / 2 if _stalled(search) else _predicted(search, below, above)
    margin = 0.02 * width
    return min(max(guess, min(below.at, above.at) + margin), max(below.at, above.at) - margin)


def _stalled(search: Search) -> bool:
    """The last two passes hardly came closer: the secant hangs on one side, so halve instead."""
    if len(search.passes) < 4:
        return False
    last, before = (abs(_worst(p)) for p in search.passes[:-3:-1])
    return last > 0.5 * before


def _predicted(search: Search, below: Pass, above: Pass) -> float:
    """Where the first of the goals is met, each taken as a straight line between the two passes."""
    away = math.copysign(1.0, above.at - below.at)
    found = []
    for goal, low, high in zip(search.goals, below.excess, above.excess, strict=True):
        if high > low and math.isfinite(low) and math.isfinite(high):
            found.append(below.at + (_aim(goal) - low) * (above.at - below.at) / (high - low))
    return min(found, key=lambda at: at * away) if found else (below.at + above.at) / 2


def _aim(goal: Goal) -> float:
    return -goal.within / 2 if goal.one_sided else 0.0


def _backwards(search: Search, nearest: Sequence[Pass], way: int) -> float | Landed:
    """Less drive than the least tried; but a bound that was broken before any drive is not mended by less of it.

    Then the setting stays where it stood.
    """
    least = nearest[0]
    worst = max(range(len(search.goals)), key=lambda number: least.excess[number])
    if search.goals[worst].one_sided:
        at_end = least.at == (search.high if way > 0 else search.low)
        gained = nearest[1].excess[worst] - least.excess[worst] if len(nearest) >= 2 else math.inf
        if at_end or gained <= search.goals[worst].within:
            why = f"{search.goals[worst].name} is broken however little it is driven"
            return Landed(search.passes[0], Ending.OUT_OF_REACH, why)
    return _onwards(search, nearest, way)


def _onwards(search: Search, nearest: Sequence[Pass], way: int) -> float | Landed:
    """Past the outermost pass. nearest: it, and the one before it; way: +1 or -1, where the setting goes."""
    outermost = nearest[0]
    end = search.high if way > 0 else search.low
    if outermost.at == end:
        return _closest(search, f"the end of its way, {end:g}")
    return _inside(search, outermost.at + way * _stride(search, nearest))


def _stride(search: Search, nearest: Sequence[Pass]) -> float:
    """How far to go on: to where the first goal is met by its last slope, else by a fair guess."""
    outermost, width = nearest[0], search.high - search.low
    strides = []
    for number, (goal, excess) in enumerate(zip(search.goals, outermost.excess, strict=True)):
        away = abs(_aim(goal) - excess)
        if not math.isfinite(away):
            continue
        if len(nearest) >= 2:
            run = abs(outermost.at - nearest[1].at)
            slope = abs(excess - nearest[1].excess[number]) / run
            if slope * width > LEAST_RISE:
                strides.append(min(OVERSTEP * away / slope, 4 * run + 0.02 * width))
        elif search.decibels and not goal.one_sided:
            strides.append(away)
    return min(strides, default=FIRST_SHARE * width)


def _round_the_top(search: Search, tried: Sequence[Pass], best: int) -> float | Landed:
    """More drive than the best pass gave less: the top lies between its neighbours, and may reach the goal."""
    after = tried[best + 1]
    before = tried[best - 1] if best else tried[best]
    left, right = abs(tried[best].at - before.at), abs(after.at - tried[best].at)
    if max(left, right) <= TOP_SHARE * (search.high - search.low):
        return _closest(search, "driven harder it comes out lower again")
    return (tried[best].at + (before.at if left > right else after.at)) / 2


def _closest(search: Search, why: str) -> Landed:
    """The pass nearest the goal; one that passes no floor comes first."""

    def distance(result: Pass) -> tuple[bool, float]:
        broken = any(e > 0 for g, e in zip(search.goals, result.excess, strict=True) if g.one_sided)
        return broken, abs(_worst(result))

    return Landed(min(search.passes, key=distance), Ending.OUT_OF_REACH, why)


def excess_of(values: Mapping[str, float | None], key: str, goal: float, sign: int) -> float:
    """How far a measurement lies past its goal. sign: +1 when larger is further, -1 for a floor.

    A measurement that does not exist counts as infinitely far below.
    """
    value = values.get(key)
    return -math.inf if value is None else sign * (value - goal)
