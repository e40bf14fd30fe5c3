"""Several reaches that cannot be met together: one is given up, so that the others are met. Pure as `plan/joint.py`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from sweeper.plan.joint import SAME_SHARE, Joint, JointLanded, JointPass, ask_joint, missed_by
from sweeper.plan.reach_terms import MOST_PASSES, Ending

#: Why the one that was given up is out of reach.
NOT_TOGETHER = "the other targets, more of which are met without it"
Each = TypeVar("Each")


@dataclass(frozen=True)
class Conceded:
    """All searches with their passes, without one. number: of the search that was given up. held: the pass from which
    the others go on, whose setting it keeps. since: how many passes there were then."""

    joint: Joint
    number: int
    held: JointPass
    since: int


def conceded(joint: Joint, landed: JointLanded) -> Conceded | None:
    """Give up the target that is missed by most, where more than one is; None where that is none to give up.

    A bound that may not be passed is never given up, nor a target with such bounds of its own.
    """
    missed = [n for n, (ending, _) in enumerate(landed.endings) if ending is Ending.OUT_OF_REACH]
    if len(missed) < 2 or len(joint.passes) >= MOST_PASSES:
        return None
    worst = max(missed, key=lambda n: missed_by(joint.searches[n], landed.chosen.excess[n]))
    if any(goal.one_sided for goal in joint.searches[worst].goals):
        return None
    return Conceded(joint, worst, landed.chosen, len(joint.passes))


def ask_others(left: Conceded) -> tuple[float, ...] | JointLanded:
    """All settings to render next, or where the other searches landed."""
    number, kept = left.number, _kept(left)
    others = tuple(replace(search, shares=_without(search.shares, number)) for search in left.joint.searches)
    passes = tuple(JointPass(_without(p.at, number), _without(p.excess, number)) for p in kept)
    answer = ask_joint(Joint(_without(others, number), passes))
    if not isinstance(answer, JointLanded):
        return (*answer[:number], left.held.at[number], *answer[number:])
    chosen = next(p for p, of_others in zip(kept, passes, strict=True) if of_others is answer.chosen)
    ends = (Ending.OUT_OF_REACH, NOT_TOGETHER)
    return JointLanded(chosen, (*answer.endings[:number], ends, *answer.endings[number:]))


def _kept(left: Conceded) -> list[JointPass]:
    """The passes in which the setting that stays stood where it stays; the one from which the others go on behind
    those made before it."""
    at, same = left.held.at[left.number], SAME_SHARE * left.joint.searches[left.number].width
    before, after = ([p for p in part if p is not left.held and abs(p.at[left.number] - at) <= same]
                     for part in (left.joint.passes[: left.since], left.joint.passes[left.since :]))  # fmt: skip
    return [*before, left.held, *after]


def _without(each: Sequence[Each], number: int) -> tuple[Each, ...]:
    return (*each[:number], *each[number + 1 :])
