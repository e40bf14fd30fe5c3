"""Solving one setting for a measurement, by asking and telling. Pure: renders nothing, knows no plugin.

Each rendered pass is told as the excess of every goal: how far the measurement lies past its goal, in its own
unit, growing with the drive. The largest excess decides. A root is bracketed and closed by the secant; what
is proposed always lies strictly inside the bracket. Some limiters come out quieter again when driven very hard:
the bracket is always the one with the least drive.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from sweeper.plan.reach_strides import CHANCE, FIRST_SHARE, LEAST_RISE, sign_of, stride, worst
from sweeper.plan.reach_terms import (
    MOST_PASSES,
    NO_CLOSER,
    Direction,
    Ending,
    Goal,
    Landed,
    Pass,
    Search,
    direction_for,
    excess_of,
    tell,
)

__all__ = [
    "MOST_PASSES", "Direction", "Ending", "Goal", "Landed", "Pass", "Search", "ask", "direction_for", "excess_of",
    "sign_of", "tell",
]  # fmt: skip

NO_FINER = "the setting has no finer step"
LOWER_AGAIN = "driven harder it comes out lower again"
END_OF_WAY = "the end of its way"
UNMOVED = "the setting does not move it"
#: The top of a hump is known when its neighbours are this near, as a share of the setting's way.
TOP_SHARE = 0.02
#: A bound is not mended by less drive where it gains less than this for one dB of a setting, or, where the setting has
#: another unit, less than a tolerance over this share of its way.
FLAT_SLOPE, FLAT_SHARE = 0.1, 0.02
#: Two places of a setting that differ by less than this share of its way are one.
SAME_SHARE = 1e-6
#: How near the end of its way a setting counts as at it, as a share of its way.
END_SHARE = 1e-3


def ask(search: Search) -> float | Landed:
    """The setting to render next, or where the search landed."""
    if not search.passes:
        return _start(search)
    if (silent := _silent(search)) is not None:
        return silent
    landed = _landed(search) or _not_engaged(search)
    if landed is not None:
        return landed
    if not search.steps and len(search.passes) >= 2 and search.passes[-1].at == search.passes[-2].at:
        return _closest(search, NO_FINER)
    if len(search.passes) >= MOST_PASSES:
        return _closest(search, f"{NO_CLOSER} {MOST_PASSES} passes")
    proposal = _next(search)
    if (held := _held(search, proposal)) is not None:
        return held
    return _on_a_step(search, proposal) if search.steps and not isinstance(proposal, Landed) else proposal


def _start(search: Search) -> float:
    at = _inside(search, search.start)
    return min(search.steps, key=lambda step: abs(step - at)) if search.steps else at


def _silent(search: Search) -> Landed | None:
    """No setting is turned for a file that has nothing to measure."""
    first = search.passes[0]
    if first.excess[0] != -math.inf:
        return None
    if search.goals[0].one_sided:
        return Landed(first, Ending.NOT_ENGAGED, "there is nothing to measure: silence")
    return Landed(first, Ending.OUT_OF_REACH, "it has no loudness: silence, or shorter than 400 ms")


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
    sign = sign_of(search)
    if sign == 0:
        return search.low, search.high
    tried = sorted(search.passes, key=lambda p: sign * p.at)
    over = next((n for n, p in enumerate(tried) if worst(p) > 0), None)
    ends = [search.low, search.high] if sign > 0 else [search.high, search.low]
    if over is not None:
        ends[1] = tried[over].at
        ends[0] = tried[over - 1].at if over else ends[0]
    else:
        ends[0] = max(tried, key=worst).at
    return min(ends), max(ends)


def _inside(search: Search, at: float) -> float:
    return min(max(at, search.low), search.high)



def _landed(search: Search) -> Landed | None:
    """On the target itself, or else at the condition that stops the drive before it."""
    last, target = search.passes[-1], search.goals[0]
    if any(excess > (0.0 if g.one_sided else g.within) for g, excess in zip(search.goals, last.excess, strict=True)):
        return None
    if last.excess[0] >= -target.within:
        return Landed(last, Ending.ON_TARGET)
    for number, goal in enumerate(search.goals[1:], start=1):
        if last.excess[number] >= -goal.within and _would_break(search, number):
            return Landed(last, Ending.STOPPED, goal.name)
    return None


def _held(search: Search, proposal: float | Landed) -> Landed | None:
    """The last pass, where a bound leaves nothing to do but to stay there; None where there is."""
    last = search.passes[-1]
    if isinstance(proposal, Landed) or search.steps or abs(proposal - last.at) > SAME_SHARE * search.width:
        return None
    bounds = list(zip(search.goals[1:], last.excess[1:], strict=True))
    held = next((goal.name for goal, excess in bounds if -goal.within <= excess), None)
    broken = any(excess > 0 for _, excess in bounds)
    return None if held is None or broken or last.excess[0] > 0 else Landed(last, Ending.STOPPED, held)


def _would_break(search: Search, number: int) -> bool:
    """Whether more drive, on the way to the target, passes a bound that the last pass is near.

    Known from a pass further on that broke it; else foreseen from how it has moved since the pass before.
    """
    last, sign = search.passes[-1], sign_of(search)
    if any(sign * p.at > sign * last.at and p.excess[number] > 0 for p in search.passes):
        return True
    lesser = [p for p in search.passes if sign * p.at < sign * last.at]
    if not lesser:
        return False
    near = max(lesser, key=lambda p: sign * p.at)
    moved, gained = last.excess[number] - near.excess[number], last.excess[0] - near.excess[0]
    left = -last.excess[0]
    return moved > LEAST_RISE and gained > LEAST_RISE and last.excess[number] + moved * left / gained > 0


def _not_engaged(search: Search) -> float | Landed | None:
    """A ceiling that leaves the target where it is, below: back to where the chain file has it; None when it is not so.

    It is known from two passes that differ in the setting and not in the target, or from the end of its way.
    """
    target, sign = search.goals[0], sign_of(search)
    ordered = sorted(search.passes, key=lambda p: (sign or 1) * p.at)
    top = ordered[-1]
    if not target.one_sided or top.excess[0] >= -target.within or worst(top) > 0:
        return None
    if len(ordered) > 1 and top.excess[0] - ordered[-2].excess[0] <= target.within / 4:
        return _back_home(search, ordered)
    if sign and _at_end(search, top.at, sign):
        return Landed(top, Ending.NOT_ENGAGED, _end_words(top.at))
    return None


def _back_home(search: Search, ordered: Sequence[Pass]) -> float | Landed:
    """The pass where the chain file has the setting, if it is as good there; else the first that is."""
    open_from = next(p for p in ordered if p.excess[0] >= ordered[-1].excess[0] - search.goals[0].within)
    home = next((p for p in ordered if abs(p.at - search.rest) <= 1e-4 * search.width), None)
    if home is None:
        sign = sign_of(search) or 1
        return search.rest if sign * search.rest > sign * open_from.at else Landed(open_from, Ending.NOT_ENGAGED)
    return Landed(home if ordered.index(home) >= ordered.index(open_from) else open_from, Ending.NOT_ENGAGED)


def _next(search: Search) -> float | Landed:
    """Inside the bracket where there is one; past the hardest drive tried; or round the top of a hump."""
    sign = sign_of(search)
    if sign == 0:
        return _try_a_way(search)
    tried = sorted(search.passes, key=lambda p: sign * p.at)  # from the least drive to the most
    over = next((n for n, p in enumerate(tried) if worst(p) > 0), None)
    if over is not None:
        return _between(search, tried[over - 1], tried[over]) if over else _backwards(search, tried[:2], -sign)
    best = max(range(len(tried)), key=lambda n: worst(tried[n]))
    if worst(tried[best]) - worst(tried[-1]) <= max(LEAST_RISE, CHANCE * search.goals[0].within):
        return _onwards(search, tried[: -3 : -1], sign)
    return _round_the_top(search, tried, best)



def _try_a_way(search: Search) -> float | Landed:
    """Nothing says which way to go: one step, then the end of the longer side; a flat answer ends the search.

    The step goes to the side with more room; in dB, as far as is missing, and upwards if there is room.
    """
    at = search.passes[0].at
    way = 1 if search.high - at >= at - search.low else -1
    if len(search.passes) >= 2:
        end = search.high if way > 0 else search.low
        return _closest(search, UNMOVED) if any(_at_end(search, p.at, way) for p in search.passes) else end
    step, away = FIRST_SHARE * search.width, search.goals[0].aim - search.passes[0].excess[0]
    if search.decibels and math.isfinite(away):
        step = abs(away)
        up = at + away
        way = int(math.copysign(1, away)) if search.low <= up <= search.high else way
    return _inside(search, at + way * step)


def _between(search: Search, below: Pass, above: Pass) -> float | Landed:
    width = abs(above.at - below.at)
    if width <= SAME_SHARE * search.width:
        return _closest(search, NO_FINER)
    guess = (below.at + above.at) / 2 if _stalled(search) else _predicted(search, below, above)
    margin = 0.02 * width
    return min(max(guess, min(below.at, above.at) + margin), max(below.at, above.at) - margin)


def _stalled(search: Search) -> bool:
    """The last two passes hardly came closer: the secant hangs on one side, so halve instead."""
    if len(search.passes) < 4:
        return False
    last, before = (abs(worst(p)) for p in search.passes[:-3:-1])
    return last > 0.5 * before


def _predicted(search: Search, below: Pass, above: Pass) -> float:
    """Where the first of the goals is met, each taken as a straight line between the two passes."""
    away = math.copysign(1.0, above.at - below.at)
    found = []
    for goal, low, high in zip(search.goals, below.excess, above.excess, strict=True):
        if high > low and math.isfinite(low) and math.isfinite(high):
            found.append(below.at + (goal.aim - low) * (above.at - below.at) / (high - low))
    return min(found, key=lambda at: at * away) if found else (below.at + above.at) / 2


def _backwards(search: Search, nearest: Sequence[Pass], way: int) -> float | Landed:
    """Less drive than the least tried; but a bound that was broken before any drive is not mended by less of it.

    Then the setting stays where it stood.
    """
    least = nearest[0]
    furthest = max(range(len(search.goals)), key=lambda number: least.excess[number])
    flat = len(nearest) >= 2 and _flat(search, furthest, least, nearest[1])
    if furthest > 0 and (flat or _at_end(search, least.at, way)):
        why = f"{search.goals[furthest].name} is broken however little it is driven"
        return Landed(search.passes[0], Ending.OUT_OF_REACH, why)
    return _onwards(search, nearest, way)


def _flat(search: Search, number: int, least: Pass, more: Pass) -> bool:
    """Whether a bound hardly follows the setting, between two passes that both break it."""
    gained, run = more.excess[number] - least.excess[number], abs(more.at - least.at)
    if gained > search.goals[number].within:
        return False
    return gained <= FLAT_SLOPE * run if search.decibels else run >= FLAT_SHARE * search.width


def _onwards(search: Search, nearest: Sequence[Pass], way: int) -> float | Landed:
    """Past the outermost pass. nearest: it, and the one before it; way: +1 or -1, where the setting goes."""
    outermost = nearest[0]
    end = search.high if way > 0 else search.low
    if _at_end(search, outermost.at, way):
        return _closest(search, _end_words(end))
    return _inside(search, outermost.at + way * stride(search, nearest))



def _at_end(search: Search, at: float, way: int) -> bool:
    return abs((search.high if way > 0 else search.low) - at) <= END_SHARE * search.width


def _end_words(end: float) -> str:
    return f"{END_OF_WAY}, {end:g}"






def _round_the_top(search: Search, tried: Sequence[Pass], best: int) -> float | Landed:
    """More drive than the best pass gave less: the top lies between its neighbours, and may reach the goal.

    It is looked for at the top of the parabola through the three; where that is the best itself, in the longer side.
    """
    top, after = tried[best], tried[best + 1]
    before = tried[best - 1] if best else top
    left, right = abs(top.at - before.at), abs(after.at - top.at)
    if max(left, right) <= TOP_SHARE * search.width:
        return _closest(search, LOWER_AGAIN)
    middle = (top.at + (before.at if left > right else after.at)) / 2
    if not left or not math.isfinite(worst(before) + worst(after)):
        return middle
    rising, falling = (worst(top) - worst(before)) / left, (worst(top) - worst(after)) / right
    steep = max(rising + falling, 1e-12)
    onwards = (rising * right - falling * left) / (2 * steep)
    rise = onwards * onwards * steep / (left + right)
    if rise < min((-search.goals[0].within - worst(top)) / 2, search.goals[0].within):
        return _closest(search, LOWER_AGAIN)
    if abs(onwards) <= TOP_SHARE * (left + right):
        return middle
    return top.at + math.copysign(onwards, onwards * (after.at - top.at))


def _closest(search: Search, why: str) -> Landed:
    """The pass nearest the goal; one that passes no floor and no ceiling comes first."""

    def distance(result: Pass) -> tuple[bool, float]:
        broken = any(e > 0 for g, e in zip(search.goals, result.excess, strict=True) if g.one_sided)
        return broken, abs(worst(result))

    return Landed(min(search.passes, key=distance), Ending.OUT_OF_REACH, why)
