"""Solving several settings for as many measurements in the same passes, by asking and telling. Pure as `plan/reach.py`.

Each reach keeps a search of its own. Before it is asked, every pass is brought to where the other settings will stand,
by how much the measurement follows those (its cross slopes); passes that are too far off to be brought over are left
out. A pass is the end only when all are met, or can go no nearer, in that same pass.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from sweeper.plan.joint_slopes import JointPass, doubt, engaged, nearby, slopes
from sweeper.plan.joint_step import smallest_step
from sweeper.plan.reach import NO_FINER, ask, sign_of
from sweeper.plan.reach_terms import MOST_PASSES, NO_CLOSER, Direction, Ending, Landed, Pass, Search

__all__ = ["Joint", "JointLanded", "JointPass", "ask_joint", "distance", "missed_by", "slope_at", "tell_joint"]

#: Two places of a setting that differ by less than this share of its way are one.
SAME_SHARE = 1e-6
#: A move smaller than this share of its way tells no slope.
FLAT_SHARE = 1e-4
#: How often the searches answer each other before a pass.
ROUNDS = 8
#: What is left has to become less by this share in two passes for each setting, and two more, to be worth going on.
PROGRESS = 0.1
#: How far off the best pass may be in each target, in tolerances, for all settings to be moved by the slopes there.
NEARLY = 6.0
#: The true peak that a ceiling in dB lets through, past its own number, as long as none has been seen.
FORESEEN_OVER_DB = 0.3
#: A pass is left out where what is not known of it exceeds this share of what it tells.
MOST_DOUBT = 0.5


@dataclass(frozen=True)
class Joint:
    """Searches on settings that differ, without passes of their own, and the passes made for all of them."""

    searches: tuple[Search, ...]
    passes: tuple[JointPass, ...] = ()


@dataclass(frozen=True)
class JointLanded:
    """All searches are over. chosen: the pass to keep. endings: how each ended, and what stopped it."""

    chosen: JointPass
    endings: tuple[tuple[Ending, str], ...]


def tell_joint(joint: Joint, result: JointPass) -> Joint:
    """The searches with one more pass."""
    return replace(joint, passes=(*joint.passes, result))


def ask_joint(joint: Joint) -> tuple[float, ...] | JointLanded:
    """The settings to render next, or where the searches landed."""
    if len(joint.searches) == 1 or not joint.passes:
        return _each_alone(joint)
    last = joint.passes[-1]
    found = [ask(_view(joint, n, last.at)) for n in _all(joint)]
    if any(excess[0] == -math.inf and not search.goals[0].one_sided
           for search, excess in zip(joint.searches, joint.passes[0].excess, strict=True)):  # fmt: skip
        return _finished(joint, found, joint.passes[0])
    if all(isinstance(f, Landed) and _same(joint, n, f.chosen.at, last.at[n]) for n, f in enumerate(found)):
        return _finished(joint, found, last)
    if len(joint.passes) >= MOST_PASSES or _creeps(joint):
        return _finished(joint, found, why=f"{NO_CLOSER} {len(joint.passes)} passes")
    proposal = _proposed(joint)
    tried = next((p for p in joint.passes if _at(joint, p, proposal)), None)
    if tried is not None and all(isinstance(f, Landed) for f in found):
        return _finished(joint, found, tried)
    if tried is None and not _stalled(joint) and not _stuck(joint):
        return proposal
    once = None if _since_best(joint) > len(joint.searches) + 1 else _all_at_once(joint)
    return once or _one_alone(joint) or _finished(joint, found)


def _proposed(joint: Joint) -> tuple[float, ...]:
    """Where to render next.

    Near the end all settings are moved at once by the slopes there: where they act on each other as much as on their
    own targets, answers to answers lead far astray.
    """
    best = _best(joint)
    off = max(missed_by(search, e) for search, e in zip(joint.searches, best.excess, strict=True))
    near = len(joint.passes) > len(joint.searches) and off <= NEARLY and _since_best(joint) < 2 and not _stuck(joint)
    if near and not _since_best(joint) and (ats := _all_at_once(joint)) is not None:
        return ats
    ats = _answered(joint)
    astray = any(abs(at - b) > nearby(s) for at, b, s in zip(ats, best.at, joint.searches, strict=True))
    return (_all_at_once(joint) if near and astray else None) or ats


def _all_at_once(joint: Joint) -> tuple[float, ...] | None:
    """The smallest move from the best pass after which all should be met; None = no way on, or it has been tried."""
    if any(search.steps or len(search.goals) > 1 for search in joint.searches):
        return None
    best = _best(joint)
    ats = smallest_step(joint.searches, (*(p for p in joint.passes if p is not best), best))
    return None if ats is None or any(_at(joint, p, ats) for p in joint.passes) else ats


def _one_alone(joint: Joint) -> tuple[float, ...] | None:
    """The settings with one turned, by the passes alone in which the others stood as now; None = no way on."""
    last = joint.passes[-1]
    if len(joint.passes) > 1 and _at(joint, last, joint.passes[-2].at):
        return None
    for n in sorted(_all(joint), key=lambda n: -missed_by(joint.searches[n], last.excess[n])):
        alike = tuple(p for p in joint.passes if _others_same(joint, n, p, last))
        answer = ask(_view(replace(joint, passes=alike), n, last.at))
        at = answer.chosen.at if isinstance(answer, Landed) else answer
        ats = (*last.at[:n], at, *last.at[n + 1 :])
        if not any(_at(joint, p, ats) for p in joint.passes):
            return ats
    return None


def _each_alone(joint: Joint) -> tuple[float, ...] | JointLanded:
    """Each search by itself: before the first pass, or when there is one only."""
    passes = tuple(Pass(p.at[0], p.excess[0]) for p in joint.passes)
    found = [ask(replace(search, passes=passes)) for search in joint.searches]
    if isinstance(found[0], Landed):
        number = next(n for n, p in enumerate(passes) if p is found[0].chosen)
        return JointLanded(joint.passes[number], ((found[0].ending, found[0].why),))
    return tuple(f for f in found if not isinstance(f, Landed))


def _view(joint: Joint, number: int, ats: Sequence[float]) -> Search:
    """One reach's search, as if in every pass the other settings had stood where `ats` has them.

    Left out: passes at a place that was tried again, and those that are too uncertain when brought over.
    """
    search, last = joint.searches[number], joint.passes[-1]
    follows = [slopes(joint.searches, joint.passes, number, goal) for goal in range(len(search.goals))]
    kept: list[Pass] = []
    for p in reversed(joint.passes):
        brought = [e + sum(follow[o] * (ats[o] - p.at[o]) for o in _others(joint, number))
                   for e, follow in zip(p.excess[number], follows, strict=True)]  # fmt: skip
        seen = Pass(p.at[number], tuple(brought))
        if not kept:
            kept.append(seen)
            continue
        tells = min(abs(seen.excess[0] - kept[0].excess[0]), abs(p.excess[number][0] - kept[0].excess[0]))
        unsure = sum(doubt(joint.searches, number, o, p) * abs(p.at[o] - last.at[o]) for o in _others(joint, number))
        if unsure <= MOST_DOUBT * tells and not any(_same(joint, number, k.at, seen.at) for k in kept):
            kept.append(seen)
    return replace(search, passes=tuple(reversed(kept)), direction=_direction(joint, number))


def _direction(joint: Joint, number: int) -> Direction:
    """As told; for a ceiling, upwards, unless two passes that differ in nothing else show the contrary."""
    search = joint.searches[number]
    if search.direction is not Direction.UNKNOWN or not search.ceiling:
        return search.direction
    for one, two in itertools.combinations(joint.passes, 2):
        rise, way = two.excess[number][0] - one.excess[number][0], two.at[number] - one.at[number]
        if _others_same(joint, number, one, two) and rise * way < 0 and abs(rise) > search.goals[0].within:
            return Direction.LOWER
    return Direction.RAISE


def _answered(joint: Joint) -> tuple[float, ...]:
    """Where the settings go: each search's answer to where the others are about to go.

    While nothing tells which way to turn one of them, that one is moved alone.
    """
    ats = list(joint.passes[-1].at)
    lost = [n for n in _all(joint) if _lost(joint, n)][:1]
    for _ in range(ROUNDS):
        before = tuple(ats)
        for n in sorted(lost or _all(joint), key=lambda n: not joint.searches[n].ceiling):
            ats[n] = _place(joint, n, ats)
        if all(_same(joint, n, before[n], ats[n]) for n in _all(joint)):
            break
    return tuple(ats)


def _lost(joint: Joint, number: int) -> bool:
    seen = _view(joint, number, joint.passes[-1].at)
    return sign_of(seen) == 0 and not isinstance(ask(seen), Landed)


def _place(joint: Joint, number: int, ats: Sequence[float]) -> float:
    """Where one setting goes, the others standing where `ats` has them."""
    seen = _view(joint, number, ats)
    answer = ask(seen)
    at = answer.chosen.at if isinstance(answer, Landed) else answer
    last = joint.passes[-1]
    free = seen.ceiling and sign_of(seen) > 0 and not engaged(joint.searches, number, last)
    rising = [o for o in _others(joint, number) if _rising(joint, o, ats)] if free else []
    if not rising:
        return at
    more = sum(abs(ats[o] - last.at[o]) for o in rising if joint.searches[o].decibels)
    return _lowered(seen, at, last.at[number], more)


def _rising(joint: Joint, number: int, ats: Sequence[float]) -> bool:
    """Whether a drive is being turned up toward its target, and is not yet where it will stay."""
    seen, last = _view(joint, number, ats), joint.passes[-1]
    short = last.excess[number][0] < -seen.goals[0].within
    return short and sign_of(seen) * (ats[number] - last.at[number]) > 0 and not isinstance(ask(seen), Landed)


def _lowered(ceiling: Search, at: float, here: float, more_db: float) -> float:
    """Where a ceiling goes at which nothing arrives yet, though more will: never up, and down to what it is to hold.

    more_db: the drive that is to come.
    """
    target, excess = ceiling.goals[0], ceiling.passes[-1].excess[0]
    foreseen = target.value + target.aim - FORESEEN_OVER_DB
    if excess + more_db > 0 and foreseen < here:
        return max(ceiling.low, foreseen if excess <= 0 else min(foreseen, at))
    return min(at, here)


def _all(joint: Joint) -> range:
    return range(len(joint.searches))


def _others(joint: Joint, number: int) -> list[int]:
    return [n for n in _all(joint) if n != number]


def _same(joint: Joint, number: int, one: float, other: float) -> bool:
    return abs(one - other) <= SAME_SHARE * joint.searches[number].width


def _others_same(joint: Joint, number: int, one: JointPass, two: JointPass) -> bool:
    """Whether two passes differ in one setting at most."""
    return all(_same(joint, n, one.at[n], two.at[n]) for n in _others(joint, number))


def _at(joint: Joint, result: JointPass, ats: Sequence[float]) -> bool:
    return all(_same(joint, n, at, result.at[n]) for n, at in enumerate(ats))


def _best(joint: Joint) -> JointPass:
    """The pass that is off by least; of several the first."""
    return min(joint.passes, key=lambda p: distance(joint, p))


def _since_best(joint: Joint) -> int:
    """How many passes were made behind the best."""
    best = _best(joint)
    return next(n for n, p in enumerate(reversed(joint.passes)) if p is best)


def _stalled(joint: Joint) -> bool:
    """The last passes, one more than there are settings, came no nearer than those before them."""
    latest = len(joint.searches) + 1
    if len(joint.passes) < latest + 2:
        return False
    nearest = [min(distance(joint, p) for p in part) for part in (joint.passes[:-latest], joint.passes[-latest:])]
    return nearest[1] >= nearest[0]


def _creeps(joint: Joint) -> bool:
    """The last passes hardly came nearer than those before them: two settings that do nearly the same lead nowhere."""
    latest = 2 * len(joint.searches) + 2
    if len(joint.passes) < latest + 1:
        return False
    before, now = (min(distance(joint, p) for p in part) for part in (joint.passes[:-latest], joint.passes[-latest:]))
    return now[0] == before[0] and now[1] > (1 - PROGRESS) * before[1]


def _stuck(joint: Joint) -> bool:
    """The last pass stood where an earlier one did, though it was asked to go elsewhere."""
    return any(_at(joint, p, joint.passes[-1].at) for p in joint.passes[:-1])


def _finished(joint: Joint, found: Sequence[float | Landed], chosen: JointPass | None = None,
              why: str = NO_FINER) -> JointLanded:  # fmt: skip
    """The end at a pass; None = at the best. why: for a search that did not come to an end by itself.

    Another pass that is nearer by a whole tolerance is kept instead, unless a ceiling is back where it stood.
    """

    def landed(kept: JointPass) -> JointLanded:
        return JointLanded(kept, tuple(_ending(joint, n, kept, found[n], why) for n in _all(joint)))

    best = landed(_best(joint))
    if chosen is None:
        return best
    there = landed(chosen)
    (broken, off), (least_broken, least_off) = distance(joint, chosen), distance(joint, best.chosen)
    nearer = least_broken < broken or (least_broken == broken and least_off < off - 1)
    return best if nearer and Ending.NOT_ENGAGED not in (ending for ending, _ in there.endings) else there


def _ending(joint: Joint, number: int, kept: JointPass, found: float | Landed, why: str) -> tuple[Ending, str]:
    """How a search ended at a pass. One that finds no finer step beside a bound was stopped by that."""
    goals, excess = joint.searches[number].goals, kept.excess[number]
    broken = next((g.name for g, e in zip(goals[1:], excess[1:], strict=True) if e > 0), "")
    if not broken and -goals[0].within <= excess[0] <= goals[0].most:
        return Ending.ON_TARGET, ""
    if not isinstance(found, Landed) or found.ending is Ending.ON_TARGET:
        held = next((g.name for g, e in zip(goals[1:], excess[1:], strict=True) if e >= -g.within), "")
        return (Ending.STOPPED, held) if held and not broken and why == NO_FINER else (Ending.OUT_OF_REACH, why)
    if found.ending is not Ending.OUT_OF_REACH and (broken or excess[0] > 0):
        return Ending.OUT_OF_REACH, f"{broken} is broken" if broken else why
    return found.ending, found.why


def distance(joint: Joint, result: JointPass) -> tuple[bool, float]:
    """How bad a pass is: whether it breaks what may not be passed, then how far it is off, in tolerances."""
    broken, off = False, 0.0
    for search, excess in zip(joint.searches, result.excess, strict=True):
        broken |= any(e > 0 for g, e in zip(search.goals, excess, strict=True) if g.one_sided)
        off += missed_by(search, excess)
    return broken, off


def missed_by(search: Search, excess: Sequence[float]) -> float:
    """How far a target is missed, in tolerances; 0 = met. Where bounds are broken, how far the worst of them is."""
    target = search.goals[0]
    broken = max((e / g.within for g, e in zip(search.goals[1:], excess[1:], strict=True)), default=0.0)
    if broken > 0:
        return broken
    return max(0.0, -target.within - excess[0], excess[0] - target.most) / target.within


def slope_at(joint: Joint, number: int, kept: JointPass) -> float | None:
    """One target's excess for one unit of its setting around a pass; None where the passes do not show it."""
    search = joint.searches[number]
    passes = (*(p for p in joint.passes if p is not kept), kept)
    if not any(abs(p.at[number] - kept.at[number]) > FLAT_SHARE * search.width for p in passes):
        return search.slope
    if len(joint.searches) > 1:
        own = slopes(joint.searches, passes, number, 0)[number]
    else:
        near = min((p for p in passes[:-1] if abs(p.at[0] - kept.at[0]) > FLAT_SHARE * search.width),
                   key=lambda p: abs(p.at[0] - kept.at[0]))  # fmt: skip
        own = (kept.excess[0][0] - near.excess[0][0]) / (kept.at[0] - near.at[0])
    return own if math.isfinite(own) and own * (search.direction.value or own) > 0 else None
