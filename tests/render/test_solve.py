"""A reach inside a worker: the last render made is the one that is kept."""

from __future__ import annotations

from sweeper.plan.reach import Direction, Ending
from sweeper.quantities import Measurements
from sweeper.render.job import GoalOrder, ReachOrder
from sweeper.render.solve import solve


class Knob:
    """A threshold in steps; loudness falls with it, and stays where it is below -20."""

    unit, low, high = "dB", -30.0, 0.0

    def __init__(self, step: float) -> None:
        self.step = step
        self.at = 0.0

    def now(self) -> float:
        return self.at

    def turn(self, value: float) -> float:
        self.at = round(value / self.step) * self.step
        return self.at


def ran(goal: float, step: float = 0.03):
    knob = Knob(step)
    rendered: list[float] = []

    def render() -> Measurements:
        rendered.append(knob.at)
        return Measurements({"loudness_lufs": -20 - max(knob.at, -20.0)})

    order = ReachOrder(0, "Threshold", "", Direction.LOWER, (GoalOrder("loudness_lufs", goal, 1, 0.1, False, "l"),))
    return solve(order, knob, render), rendered  # type: ignore[arg-type]


def test_it_lands_and_says_where():
    solved, rendered = ran(-12.0)
    assert solved.ending is Ending.ON_TARGET
    assert abs(solved.value + 12) <= 0.1
    assert solved.at == rendered[-1]
    assert solved.passes == len(rendered) == 2


def test_the_closest_is_rendered_again_when_it_was_not_the_last():
    solved, rendered = ran(-12.5, step=2.0)
    assert solved.ending is Ending.OUT_OF_REACH
    assert solved.at == rendered[-1]
    assert solved.value == -20 - rendered[-1]
    assert solved.passes == len(rendered)


def test_out_of_reach_keeps_the_closest_and_says_which_end_stopped_it():
    solved, _ = ran(5.0)
    assert solved.ending is Ending.OUT_OF_REACH
    assert solved.value == 0.0
    assert "-30" in solved.why or "lower again" in solved.why or "finer" in solved.why
