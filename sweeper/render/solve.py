"""Reaches inside a worker: turn the knobs, render, measure, until all have landed."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from sweeper.host.knob import Knob
from sweeper.plan.joint import Joint, JointLanded, JointPass, ask_joint, slope_at, tell_joint
from sweeper.plan.reach import Direction, Goal, Search, excess_of
from sweeper.plan.reach_terms import FALLS_WITH_DRIVE
from sweeper.quantities import BY_KEY, Measurements
from sweeper.render.job import GoalOrder, ReachOrder, Solved

#: Units of peaks: a ceiling in dB is compared with them.
PEAK_UNITS = ("dBTP", "dBFS")


def solve(orders: Sequence[ReachOrder], knobs: Sequence[Knob],
          render: Callable[[], Measurements]) -> tuple[Solved, ...]:  # fmt: skip
    """Turn the knobs, one for each of one or two orders, until the targets are met or out of reach.

    The last render made is the one to keep. render: renders once with the knobs where they stand, and measures. Returns
    how each order ended; its passes are those of all.
    """
    joint = Joint(tuple(_search(order, knob) for order, knob in zip(orders, knobs, strict=True)))
    measured: dict[int, Measurements] = {}
    while not isinstance(proposal := ask_joint(joint), JointLanded):
        at = tuple(knob.turn(value) for knob, value in zip(knobs, proposal, strict=True))
        measurements = measured[len(joint.passes)] = render()
        joint = tell_joint(joint, JointPass(at, tuple(_excess(order, measurements) for order in orders)))
    passes = len(joint.passes)
    kept = next(n for n, p in enumerate(joint.passes) if p is proposal.chosen)
    if kept != passes - 1:
        for knob, value in zip(knobs, proposal.chosen.at, strict=True):
            knob.turn(value)
        measured[kept] = render()
        passes += 1
    solved = []
    for n, (order, knob, (ending, why)) in enumerate(zip(orders, knobs, proposal.endings, strict=True)):
        target = order.goals[0]
        solved.append(Solved(target.key, target.goal, measured[kept].values[target.key], ending, order.setting,
                             proposal.chosen.at[n], knob.unit, passes, why,
                             _slope(order, joint, n, proposal.chosen)))  # fmt: skip
    return tuple(solved)


def _search(order: ReachOrder, knob: Knob) -> Search:
    """A search in terms of what grows with the drive, as the bounds of `stop at` do."""
    goals = tuple(Goal(goal.text, goal.within, goal.one_sided, _peak(goal)) for goal in order.goals)
    direction = order.direction.opposite if _falls(order) else order.direction
    home, taught = knob.now(), order.taught
    slope = None if taught is None or taught.slope is None else _signs(order)[0] * taught.slope
    return Search(goals, knob.low, knob.high, home if taught is None else taught.at, direction, knob.unit == "dB",
                  steps=knob.steps, home=home, slope=slope)  # fmt: skip


def _peak(goal: GoalOrder) -> float:
    return goal.goal if goal.one_sided and BY_KEY[goal.key].unit in PEAK_UNITS else math.nan


def _falls(order: ReachOrder) -> bool:
    """Whether the target falls while the bounds grow: then it is looked at as a floor, from above."""
    target = order.goals[0]
    return target.key in FALLS_WITH_DRIVE and not target.one_sided and order.direction is not Direction.UNKNOWN


def _signs(order: ReachOrder) -> tuple[int, ...]:
    """For every goal: +1 when its excess grows with the measurement, -1 when it falls."""
    target, *bounds = order.goals
    return (-target.sign if _falls(order) else target.sign, *(bound.sign for bound in bounds))


def _excess(order: ReachOrder, measurements: Measurements) -> tuple[float, ...]:
    goals = zip(order.goals, _signs(order), strict=True)
    return tuple(excess_of(measurements.values, goal.key, goal.goal, sign) for goal, sign in goals)


def _slope(order: ReachOrder, joint: Joint, number: int, kept: JointPass) -> float | None:
    own = slope_at(joint, number, kept)
    return None if own is None else _signs(order)[0] * own
