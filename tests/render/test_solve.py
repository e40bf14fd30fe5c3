"""A reach inside a worker: the last render made is the one that is kept."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from sweeper.plan.reach import Direction, Ending
from sweeper.quantities import Measurements
from sweeper.render.job import GoalOrder, ReachOrder
from sweeper.render.solve import solve


class Knob:
    """A threshold in steps; loudness falls with it, and stays where it is below -20."""

    unit, low, high, steps = "dB", -30.0, 0.0, ()

    def __init__(self, step: float) -> None:
        self.step = step
        self.at = 0.0

    def now(self) -> float:
        return self.at

    def turn(self, value: float) -> float:
        self.at = round(value / self.step) * self.step
        return self.at


def limiting(threshold_db: float) -> float:
    return -20 - max(threshold_db, -20.0)


def ran(goal: float, step: float = 0.03, loudness: Callable[[float], float] = limiting):
    knob = Knob(step)
    rendered: list[float] = []

    def render() -> Measurements:
        rendered.append(knob.at)
        return Measurements({"loudness_lufs": loudness(knob.at)})

    order = ReachOrder(0, "Threshold", "", Direction.LOWER, (GoalOrder("loudness_lufs", goal, 1, 0.1, False, "l"),))
    return solve(order, knob, render), rendered  # type: ignore[arg-type]


def test_it_lands_and_says_where():
    solved, rendered = ran(-12.0)
    assert solved.ending is Ending.ON_TARGET
    assert abs(solved.value + 12) <= 0.1
    assert solved.at == rendered[-1]
    assert solved.passes == len(rendered) == 2


@pytest.mark.parametrize("goal", [-18.5, -17.0, -15.5, -14.0, -12.5])
def test_a_curve_is_solved_as_near_as_the_order_says(goal):
    solved, _ = ran(goal, loudness=lambda at_db: -20 + 10 * (1 - math.exp(at_db / 10)))
    assert solved.ending is Ending.ON_TARGET
    assert abs(solved.value - goal) <= 0.1


def test_what_is_told_is_the_last_render_made_and_the_closest_is_made_again_where_it_was_not_the_last():
    again = 0
    for top_db in range(-25, -5):
        solved, rendered = ran(0.5, loudness=lambda at_db, top_db=top_db: -abs(at_db - top_db))
        assert solved.ending is Ending.OUT_OF_REACH
        assert solved.at == rendered[-1]
        assert solved.value == -abs(rendered[-1] - top_db) == max(-abs(at_db - top_db) for at_db in rendered)
        assert solved.passes == len(rendered)
        again += rendered[-1] in rendered[:-1]
    assert again, "at some of the tops the last proposal is not the closest"


def test_out_of_reach_keeps_the_closest_and_says_which_end_stopped_it():
    solved, _ = ran(5.0)
    assert solved.ending is Ending.OUT_OF_REACH
    assert solved.value == 0.0
    assert "-30" in solved.why or "lower again" in solved.why or "finer" in solved.why
