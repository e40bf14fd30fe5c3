"""Reaches inside a worker: turn the knobs, render, measure, until all have landed."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from sweeper.host.knob import Knob, RideKnob
from sweeper.plan.joint import Joint, JointLanded, JointPass, ask_joint, distance, slope_at, tell_joint
from sweeper.plan.reach import Direction, Goal, Search, excess_of
from sweeper.plan.reach_terms import FALLS_WITH_DRIVE, Ending
from sweeper.quantities import Measurements, quantity_of
from sweeper.render.job import GoalOrder, ReachOrder, Solved

#: Units of peaks: a ceiling in dB is compared with them.
PEAK_UNITS = ("dBTP", "dBFS")


def solve(orders: Sequence[ReachOrder], knobs: Sequence[Knob | RideKnob],
          render: Callable[[], Measurements]) -> tuple[Solved, ...]:  # fmt: skip
    """Turn the knobs, one for each of one or two orders, until the targets are met or out of reach.

    The last render made is the one to keep. render: renders once with the knobs where they stand, and measures. Returns
    how each order ended; its passes are those of all. A search that a teacher started and that misses is made once more
    from where the chain file has the settings: past the top of a limiter that falls when overdriven nothing leads back.
    """
    homes = tuple(knob.now() for knob in knobs)
    found = [_searched(orders, knobs, homes, render)]
    if found[0].missed and any(order.taught for order in orders):
        untaught = [replace(order, taught=None) for order in orders]
        found.append(_searched(untaught, knobs, homes, render))
    best = min(reversed(found), key=lambda f: (f.missed, distance(f.joint, f.landed.chosen)))
    passes = sum(len(f.joint.passes) for f in found)
    chosen = best.landed.chosen
    kept = next(n for n, p in enumerate(best.joint.passes) if p is chosen)
    measurements = best.measured[kept]
    if best is not found[-1] or kept != len(best.joint.passes) - 1:
        for knob, value in zip(knobs, chosen.at, strict=True):
            knob.turn(value)
        measurements = render()
        passes += 1
    solved = []
    for n, (order, knob, (ending, why)) in enumerate(zip(orders, knobs, best.landed.endings, strict=True)):
        target = order.goals[0]
        solved.append(Solved(target.key, target.goal, measurements.values[target.key], ending, order.setting,
                             chosen.at[n], knob.unit, passes, why, _slope(order, best.joint, n, chosen)))  # fmt: skip
    return tuple(solved)


@dataclass(frozen=True)
class _Searched:
    """A search that is over, with what every pass measured."""

    joint: Joint
    landed: JointLanded
    measured: tuple[Measurements, ...]

    @property
    def missed(self) -> bool:
        """A target was out of reach."""
        return any(ending is Ending.OUT_OF_REACH for ending, _ in self.landed.endings)


def _searched(orders: Sequence[ReachOrder], knobs: Sequence[Knob | RideKnob], homes: Sequence[float],
              render: Callable[[], Measurements]) -> _Searched:  # fmt: skip
    joint = Joint(tuple(_search(order, knob, home) for order, knob, home in zip(orders, knobs, homes, strict=True)))
    measured: list[Measurements] = []
    while not isinstance(proposal := ask_joint(joint), JointLanded):
        at = tuple(knob.turn(value) for knob, value in zip(knobs, proposal, strict=True))
        measured.append(render())
        joint = tell_joint(joint, JointPass(at, tuple(_excess(order, measured[-1]) for order in orders)))
    return _Searched(joint, proposal, tuple(measured))


def _search(order: ReachOrder, knob: Knob | RideKnob, home: float) -> Search:
    """A search in terms of what grows with the drive, as the bounds of `stop at` do."""
    goals = tuple(Goal(goal.text, goal.within, goal.one_sided, _peak(goal)) for goal in order.goals)
    direction = order.direction.opposite if _falls(order) else order.direction
    taught = order.taught
    slope = None if taught is None or taught.slope is None else _signs(order)[0] * taught.slope
    return Search(goals, knob.low, knob.high, home if taught is None else taught.at, direction, knob.unit == "dB",
                  steps=knob.steps, home=home, slope=slope)  # fmt: skip


def _peak(goal: GoalOrder) -> float:
    return goal.goal if goal.one_sided and quantity_of(goal.key).unit in PEAK_UNITS else math.nan


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
    values = {goal.key: measurements.compared(goal.key) for goal in order.goals}
    return tuple(excess_of(values, goal.key, goal.goal, sign) for goal, sign in goals)



def _slope(order: ReachOrder, joint: Joint, number: int, kept: JointPass) -> float | None:
    own = slope_at(joint, number, kept)
    return None if own is None else _signs(order)[0] * own
