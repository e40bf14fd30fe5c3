"""Where the next full render should stand, found on excerpts. Runs in workers.

The same search as on full renders goes on among what excerpts foretell, which costs little. After each full render the
foretelling is set right by what that one measured, so that it has to be right about differences only.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from sweeper.plan.joint import Joint, JointLanded, JointPass, ask_joint, distance, slope_at, tell_joint
from sweeper.plan.reach import END_OF_WAY, LOWER_AGAIN, NO_FINER, sign_of
from sweeper.plan.reach_terms import NO_CLOSER, Ending
from sweeper.quantities import Measurements
from sweeper.render.job import ReachOrder
from sweeper.render.searches import AnyKnob, excess, joint_of, signs

#: Tries that are left for after the first full render, of one setting and of several; at most half of all.
KEPT_BACK = (1, 3)
#: What a further full render that does not meet everything has to bring to be worth it, in tolerances.
WORTH = 0.5
#: How far off what is foretold may be, in the unit of the goal, for its word that nothing is nearer to be taken.
MOST_OFF = 1.0
#: After so many full renders a target counts as out of reach where excerpts say so; before, it is made sure of.
MOST_TO_BE_SURE = 4
#: Excerpts are asked after so many full renders, of one setting and of several; then these alone say where the next one
#: stands: what excerpts are still off by is more than what is left to find.
MOST_FORESEEN = (6, 3)
#: How far beside a top to look at most, in dB, or as a share of another setting's way.
ASIDE_DB, ASIDE = 3.0, 0.1
#: Of what was foretold elsewhere, so much is remembered: more would count as passes that come no nearer.
REMEMBERED = 6
#: Two places of a setting that differ by less than this share of its way are one.
SAME_SHARE = 1e-3
#: Of the excerpts that are played before the first full render.
FIRST_EDITION = 0
Excess = tuple[tuple[float, ...], ...]


@dataclass(frozen=True)
class _Off:
    """What a full render measured over what was foretold of it, as excess. edition: of the excerpts that foretold."""

    edition: int
    at: tuple[float, ...]
    off: Excess


class Rehearsing(Protocol):
    """Foretells what a full render would measure. left: how often it may still be asked.

    edition: another number once other excerpts are played: what these foretell is off by something else.
    """

    edition: int

    @property
    def left(self) -> int:
        """How often it may still be asked."""
        ...

    def foretell(self) -> Measurements:
        """With the settings where they stand."""
        ...


class Foresight:
    """The search on excerpts that goes beside one on full renders.

    beyond: of each order, what the first full render measured over what was foretold of it, in the measurement's unit:
    before it or, where it stood elsewhere than what was foretold, after it. None before it, and where it met everything
    without.
    """

    def __init__(self, orders: Sequence[ReachOrder], knobs: Sequence[AnyKnob], homes: Sequence[float],
                 rehearsing: Rehearsing) -> None:  # fmt: skip
        self._orders = tuple(orders)
        self._knobs = tuple(knobs)
        self._homes = tuple(homes)
        self._rehearsing = rehearsing
        self._offs: list[_Off] = []
        self._taught = tuple(_taught(order) for order in orders)
        self._begun = joint_of(orders, knobs, homes)
        self._tries: list[tuple[int, JointPass]] = []
        self._foretold: Excess = ()
        self.beyond: tuple[float | None, ...] = (None,) * len(self._orders)

    @property
    def can_tell(self) -> bool:
        """Whether there is anything left to ask."""
        return self._rehearsing.left > 0

    def can_tell_after(self, full: Joint) -> bool:
        """Whether it is worth asking where to render next."""
        return self.can_tell and len(full.passes) <= MOST_FORESEEN[len(self._orders) > 1]

    def slopes(self) -> tuple[float | None, ...]:
        """Of each order, its target's excess for one unit of its setting, as far as it is known."""
        return tuple(search.slope for search in self._begun.searches)

    def first(self) -> tuple[float, ...]:
        """The settings for the first full render."""
        left = self._rehearsing.left
        answer = self._search(self._begun, left - min(KEPT_BACK[len(self._orders) > 1], left // 2))
        if self._misled(answer):
            self._begun = joint_of([replace(order, taught=None) for order in self._orders], self._knobs, self._homes)
            answer = self._search(self._begun, max(self._rehearsing.left - 1, 1))
        if not isinstance(answer, JointLanded):
            return self._made_sure_of(answer)
        at, self._foretold = self._last_bit(answer)
        return at

    def _made_sure_of(self, answer: tuple[float, ...]) -> tuple[float, ...]:
        """A place to render first that was tried: the one that would be tried next, or a nearer one before it."""
        before = [self._right(edition, tried) for edition, tried in self._tries]
        if not self.can_tell or not before:
            return answer
        self._tries.append(self._tried(answer))
        last = self._right(*self._tries[-1])
        found = min([last, *reversed(before)], key=lambda tried: distance(self._begun, tried)[1])
        number = len(before) if found is last else max(n for n, one in enumerate(before) if one is found)
        self._foretold = self._tries[number][1].excess
        return found.at

    def met(self, full: Joint) -> None:
        """Takes note of a full render, the last of `full`."""
        if len(full.passes) == 1 and self._foretold:
            off = _gaps(full.passes[0].excess, self._foretold)
            self._offs.append(_Off(FIRST_EDITION, full.passes[0].at, off))
            self.beyond = self._beyond(off)

    def after(self, full: Joint) -> tuple[float, ...] | JointLanded | None:
        """The settings for the next full render; that there is no nearer one than those made; None = it cannot tell."""
        last = full.passes[-1]
        self._turn(last.at)
        off = _gaps(last.excess, self._told())
        self._offs.append(_Off(self._rehearsing.edition, last.at, off))
        if len(full.passes) == 1 and not self._foretold:
            self.beyond = self._beyond(off)
        known = (*self._set_right(full), *full.passes)
        answer = self._search(replace(self._begun, passes=known), self._rehearsing.left)
        if not isinstance(answer, JointLanded):
            return None if any(self._same(answer, p.at) for p in full.passes) else answer
        engaged = [n for n, (ending, _) in enumerate(answer.endings) if ending is not Ending.NOT_ENGAGED]
        best = min(full.passes, key=lambda p: _left(full, p, engaged))
        (broken, away), (still_broken, nearest) = (_left(full, p, engaged) for p in (best, answer.chosen))
        if still_broken < broken or (still_broken == broken and (nearest < away - WORTH or nearest == 0 < away)):
            return self._last_bit(answer)[0]
        missed = next((n for n, (ending, _) in enumerate(answer.endings) if ending is Ending.OUT_OF_REACH), None)
        if missed is None:
            return JointLanded(best, answer.endings)
        if abs(off[missed][0]) > MOST_OFF or self._is_lost(missed, answer.endings[missed][1]):
            return None
        unsure = self._unsure(full, best, missed, answer.endings[missed][1])
        return JointLanded(best, answer.endings) if unsure is None else unsure

    def _is_lost(self, number: int, why: str) -> bool:
        """Whether the search on excerpts has given up, which says nothing of the music."""
        return why.startswith(NO_CLOSER) or (why == NO_FINER and not self._begun.searches[number].steps)

    def _unsure(self, full: Joint, best: JointPass, number: int, why: str) -> tuple[float, ...] | None:
        """Where to render before a target is called out of reach: both sides of a top, or the end of the way.

        None = it has been rendered, or that would take too long.
        """
        if len(full.passes) >= MOST_TO_BE_SURE:
            return None
        search, at = self._begun.searches[number], best.at[number]
        made = [p.at[number] for p in full.passes]
        if why == LOWER_AGAIN:
            for way in (sign_of(search) or 1, -(sign_of(search) or 1)):
                if any(way * (one - at) > SAME_SHARE * search.width for one in made):
                    continue
                tried = [way * (t.at[number] - at) for _, t in self._tries]
                most = ASIDE_DB if search.decibels else ASIDE * search.width
                step = min((t / 2 for t in tried if t > SAME_SHARE * search.width), default=most)
                place = min(max(at + way * min(step, most), search.low), search.high)
                return tuple(place if n == number else one for n, one in enumerate(best.at))
        elif why.startswith(END_OF_WAY):
            end = min((search.low, search.high), key=lambda one: abs(one - float(why.rpartition(" ")[2])))
            if all(abs(one - end) > SAME_SHARE * search.width for one in made):
                return tuple(end if n == number else one for n, one in enumerate(best.at))
        return None

    def _set_right(self, full: Joint) -> Iterator[JointPass]:
        """What was foretold elsewhere than where full renders stand, with what is off by now."""
        last = full.passes[-1].at
        near = sorted(range(len(self._tries)), key=lambda n: self._way(self._tries[n][1].at, last))[:REMEMBERED]
        for edition, tried in (self._tries[n] for n in sorted(near)):
            if not any(self._same(tried.at, p.at) for p in full.passes):
                yield self._right(edition, tried)

    def _right(self, edition: int, tried: JointPass) -> JointPass:
        """What was foretold with what is off at the full render nearest to it; before one, what a teacher's was off.

        edition: of the excerpts that foretold it, by which what is off is known too, if it can be.
        """
        known = [off for off in self._offs if off.edition == edition] or self._offs
        off = min(known, key=lambda one: self._way(one.at, tried.at)).off if known else self._taught
        right = (tuple(e + o for e, o in zip(each, offs, strict=True))
                 for each, offs in zip(tried.excess, off, strict=True))  # fmt: skip
        return replace(tried, excess=tuple(right))

    def _misled(self, answer: tuple[float, ...] | JointLanded) -> bool:
        """Whether nothing is in reach from where a teacher stood: past a limiter's top nothing leads back."""
        missed = isinstance(answer, JointLanded) and any(e is Ending.OUT_OF_REACH for e, _ in answer.endings)
        return missed and any(order.taught for order in self._orders)

    def _search(self, joint: Joint, most: int) -> tuple[float, ...] | JointLanded:
        """Go on with a search on what is foretold, for so many tries; what it comes to, or would try next."""
        answer = ask_joint(joint)
        for _ in range(min(most, self._rehearsing.left)):
            if isinstance(answer, JointLanded):
                break
            self._tries.append(self._tried(answer))
            joint = tell_joint(joint, self._right(*self._tries[-1]))
            answer = ask_joint(joint)
        near = answer.chosen if isinstance(answer, JointLanded) else min(
            joint.passes, key=lambda p: distance(joint, p))  # fmt: skip
        learnt = [replace(search, slope=slope_at(joint, n, near)) for n, search in enumerate(self._begun.searches)]
        self._begun = replace(self._begun, searches=tuple(learnt))
        return answer if isinstance(answer, JointLanded) else self._held(answer, near, joint)

    def _held(self, answer: tuple[float, ...], near: JointPass, joint: Joint) -> tuple[float, ...]:
        """What would be tried next, not further beyond everything tried than it lies from the nearest so far."""
        held = []
        for n, at in enumerate(answer):
            tried = [p.at[n] for p in joint.passes]
            low, high = min(tried), max(tried)
            more = max(near.at[n] - low, high - near.at[n]) / 2
            held.append(min(max(at, low - more), high + more))
        return tuple(held)

    def _tried(self, at: Sequence[float]) -> tuple[int, JointPass]:
        """What is foretold in some settings, with the edition of the excerpts that foretell it."""
        return self._rehearsing.edition, JointPass(self._turn(at), self._told())

    def _beyond(self, off: Excess) -> tuple[float, ...]:
        """What is off of each target, in the measurement's own direction."""
        return tuple(signs(order)[0] * each[0] for order, each in zip(self._orders, off, strict=True))

    def _told(self) -> Excess:
        foretold = self._rehearsing.foretell()
        return tuple(excess(order, foretold) for order in self._orders)

    def _turn(self, at: Sequence[float]) -> tuple[float, ...]:
        return tuple(knob.turn(value) for knob, value in zip(self._knobs, at, strict=True))

    def _last_bit(self, landed: JointLanded) -> tuple[tuple[float, ...], Excess]:
        """Along the slopes to the middle of what counts as met, and the excess foretold there, without what is off."""
        places, foretold = list[float](), list[tuple[float, ...]]()
        for n, (search, (ending, _)) in enumerate(zip(self._begun.searches, landed.endings, strict=True)):
            at, found = landed.chosen.at[n], landed.chosen.excess[n][0]
            if search.slope and math.isfinite(found) and ending is Ending.ON_TARGET:
                moved = min(max(at + (search.goals[0].aim - found) / search.slope, search.low), search.high)
                at, found = moved, found + search.slope * (moved - at)
            places.append(at)
            foretold.append((found - self._taught[n][0], *landed.chosen.excess[n][1:]))
        return tuple(places), tuple(foretold)

    def _same(self, one: Sequence[float], other: Sequence[float]) -> bool:
        return self._way(one, other) <= SAME_SHARE

    def _way(self, one: Sequence[float], other: Sequence[float]) -> float:
        """How far apart two places are, as a share of the ways of the settings."""
        widths = (search.width for search in self._begun.searches)
        return max(abs(a - b) / width for a, b, width in zip(one, other, widths, strict=True))


def _left(joint: Joint, result: JointPass, engaged: Sequence[int]) -> tuple[bool, float]:
    """As `distance`, but without how far ceilings are off that nothing arrives at. engaged: the numbers of the rest."""
    rest = Joint(tuple(joint.searches[n] for n in engaged))
    excesses = tuple(result.excess[n] for n in engaged)
    return distance(joint, result)[0], distance(rest, replace(result, excess=excesses))[1]


def _taught(order: ReachOrder) -> tuple[float, ...]:
    """What a teacher's full render measured beyond what was foretold of it, as excess."""
    beyond = order.taught.beyond if order.taught is not None else None
    return (signs(order)[0] * (beyond or 0.0), *(0.0 for _ in order.goals[1:]))


def _gaps(made: Excess, foretold: Excess) -> Excess:
    """What is off of every goal, where both are known."""
    return tuple(tuple(a - b if math.isfinite(a) and math.isfinite(b) else 0.0 for a, b in zip(one, two, strict=True))
                 for one, two in zip(made, foretold, strict=True))  # fmt: skip
