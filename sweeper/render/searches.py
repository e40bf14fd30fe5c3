"""What a worker is to solve, as searches in terms of what grows with the drive; what was measured, as their excess."""

from __future__ import annotations

import math
from collections.abc import Sequence

from sweeper.chain.model import TRIMS
from sweeper.host.knob import Knob, RideKnob
from sweeper.plan.foreseen import Place, foreseen
from sweeper.plan.joint import Joint
from sweeper.plan.reach import Direction, Goal, Search, excess_of
from sweeper.plan.reach_terms import FALLS_WITH_DRIVE
from sweeper.quantities import Measurements, quantity_of
from sweeper.render.job import GoalOrder, ReachOrder

#: Units of peaks: a ceiling in dB is compared with them.
PEAK_UNITS = ("dBTP", "dBFS")
#: Units of what grows with a gain on the whole sound, and of what does not.
LEVEL_UNITS, DIFFERENCE_UNITS = ("LUFS", *PEAK_UNITS), ("dB", "LU")
#: The trim that works behind a stage's plugin.
OUTPUT_TRIM = TRIMS[1]
AnyKnob = Knob | RideKnob


def joint_of(orders: Sequence[ReachOrder], knobs: Sequence[AnyKnob], homes: Sequence[float]) -> Joint:
    """The searches for all orders, before the first pass. homes: where the chain file has the settings."""
    searches = [_search(order, knob, home) for order, knob, home in zip(orders, knobs, homes, strict=True)]
    return Joint(foreseen(searches, [_place(order) for order in orders]))


def excess(order: ReachOrder, measurements: Measurements) -> tuple[float, ...]:
    """How far each goal of an order is passed, in the goals' order."""
    goals = zip(order.goals, signs(order), strict=True)
    values = {goal.key: measurements.compared(goal.key) for goal in order.goals}
    return tuple(excess_of(values, goal.key, goal.goal, sign) for goal, sign in goals)


def signs(order: ReachOrder) -> tuple[int, ...]:
    """For every goal: +1 when its excess grows with the measurement, -1 when it falls."""
    target, *bounds = order.goals
    return (-target.sign if _falls(order) else target.sign, *(bound.sign for bound in bounds))


def _search(order: ReachOrder, knob: AnyKnob, home: float) -> Search:
    """A search in terms of what grows with the drive, as the bounds of `stop at` do."""
    goals = tuple(Goal(goal.text, goal.within, goal.one_sided, _peak(goal), _by_gain(goal.key, sign))
                  for goal, sign in zip(order.goals, signs(order), strict=True))  # fmt: skip
    direction = order.direction.opposite if _falls(order) else order.direction
    taught = order.taught
    slope = None if taught is None or taught.slope is None else signs(order)[0] * taught.slope
    return Search(goals, knob.low, knob.high, home if taught is None else taught.at, direction, knob.unit == "dB",
                  steps=knob.steps, home=home, slope=slope)  # fmt: skip


def _place(order: ReachOrder) -> Place:
    return Place(order.goals[0].key, order.measured, order.stage, behind=order.setting == OUTPUT_TRIM)


def _peak(goal: GoalOrder) -> float:
    return goal.goal if goal.one_sided and quantity_of(goal.key).unit in PEAK_UNITS else math.nan


def _by_gain(key: str, sign: int) -> float:
    """What a goal's excess gains for one dB of gain on the whole sound; nan for what is no level, or a stage's own."""
    quantity = quantity_of(key)
    if quantity.inside or quantity.unit not in LEVEL_UNITS + DIFFERENCE_UNITS:
        return math.nan
    return float(sign) if quantity.unit in LEVEL_UNITS else 0.0


def _falls(order: ReachOrder) -> bool:
    """Whether the target falls while the bounds grow: then it is looked at as a floor, from above."""
    target = order.goals[0]
    return target.key in FALLS_WITH_DRIVE and not target.one_sided and order.direction is not Direction.UNKNOWN
