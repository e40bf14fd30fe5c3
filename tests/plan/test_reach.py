"""The solver on curves of known shape."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweeper.plan.reach import MOST_PASSES, Direction, Ending, Goal, Landed, Pass, Search, ask, excess_of, tell

LOUDNESS = Goal("loudness -10", 0.1, one_sided=False)
FLOOR = Goal("crest >= 8 dB", 0.1, one_sided=True)


def solved(search: Search, curve: Callable[[float], tuple[float, ...]], step: float = 0.0) -> tuple[Landed, int]:
    """Run a search on a curve; step: the setting's own steps."""
    passes = 0
    while not isinstance(proposal := ask(search), Landed):
        at = round(proposal / step) * step if step else proposal
        assert search.low <= at <= search.high
        search = tell(search, Pass(at, curve(at)))
        passes += 1
        assert passes <= MOST_PASSES
    return proposal, passes


def search(low: float, high: float, start: float, direction: Direction, *goals: Goal, decibels: bool = True) -> Search:
    return Search(goals or (LOUDNESS,), low, high, start, direction, decibels)


def limiter(drive_db: float) -> float:
    """A loudness that grows a decibel a decibel at first and ever less when it is driven hard."""
    return -20 + drive_db - 0.35 * math.log1p(math.exp((drive_db - 6) / 1.5)) * 1.5


def test_a_straight_line_is_met_at_the_second_pass():
    landed, passes = solved(search(-40, 40, 0, Direction.RAISE), lambda x: (-20 + x + 10,))
    assert landed.ending is Ending.ON_TARGET
    assert landed.chosen.at == pytest.approx(10, abs=0.1)
    assert passes == 2


def test_a_limiter_like_curve_is_met_in_few_passes():
    landed, passes = solved(search(-40, 40, 0, Direction.RAISE), lambda x: (limiter(x) + 10,))
    assert landed.ending is Ending.ON_TARGET
    assert abs(limiter(landed.chosen.at) + 10) <= 0.1
    assert passes <= 4


def test_a_lowered_threshold_is_driven_downwards():
    landed, _ = solved(search(-30, 0, 0, Direction.LOWER), lambda x: (limiter(-x) + 10,))
    assert landed.ending is Ending.ON_TARGET
    assert landed.chosen.at < -8


def test_the_end_of_the_range_is_an_answer():
    landed, passes = solved(search(-30, 0, 0, Direction.LOWER), lambda x: (-0.2 * x - 20 + 10,))
    assert landed.ending is Ending.OUT_OF_REACH
    assert landed.chosen.at == -30
    assert "-30" in landed.why
    assert passes <= 5


def test_too_loud_from_the_start_goes_the_other_way():
    landed, _ = solved(search(-40, 40, 20, Direction.RAISE), lambda x: (x - 3,))
    assert landed.ending is Ending.ON_TARGET
    assert landed.chosen.at == pytest.approx(3, abs=0.11)


@pytest.mark.parametrize("sign", [1, -1], ids=["rising", "falling"])
def test_an_unknown_direction_is_found_out(sign):
    landed, _ = solved(search(0, 10, 5, Direction.UNKNOWN, decibels=False), lambda x: (sign * (x - 5) - 2,))
    assert landed.ending is Ending.ON_TARGET
    assert landed.chosen.at == pytest.approx(5 + sign * 2, abs=0.11)


def test_a_setting_that_moves_nothing_is_said_so():
    landed, passes = solved(search(0, 10, 5, Direction.UNKNOWN, decibels=False), lambda x: (-3.0,))
    assert landed.ending is Ending.OUT_OF_REACH
    assert "does not move" in landed.why
    assert passes <= 3


def test_a_floor_stops_the_drive_and_is_named():
    landed, _ = solved(search(-40, 40, 0, Direction.RAISE, LOUDNESS, FLOOR), lambda x: (x - 12, 8 - (16 - x)))
    assert landed.ending is Ending.STOPPED
    assert landed.why == "crest >= 8 dB"
    assert 7.9 <= landed.chosen.at <= 8.0, "as far as the floor allows, and not past it"


def test_a_floor_that_is_not_met_by_the_target_does_not_matter():
    landed, _ = solved(search(-40, 40, 0, Direction.RAISE, LOUDNESS, FLOOR), lambda x: (x - 5, 8 - (16 - x)))
    assert landed.ending is Ending.ON_TARGET


@pytest.mark.parametrize("margin", [0.05, 0.09])
def test_a_bound_that_is_near_but_never_passed_does_not_stop_the_drive(margin):
    ceiling = Goal("true peak <= -1 dBTP", 0.1, one_sided=True)
    landed, _ = solved(search(-40, 40, 0, Direction.RAISE, LOUDNESS, ceiling), lambda x: (x - 10, -margin))
    assert landed.ending is Ending.ON_TARGET


def test_every_step_between_is_tried_before_giving_up():
    steps = (0.0, 1.0, 2.0, 3.0)
    start = Search((LOUDNESS,), 0, 3, 0, Direction.UNKNOWN, False, steps=steps)
    loud = {0.0: -6.0, 1.0: -4.0, 2.0: 0.05, 3.0: 2.0}
    landed, _ = solved(start, lambda x: (loud[x],))
    assert (landed.ending, landed.chosen.at) == (Ending.ON_TARGET, 2.0)


def test_steps_that_miss_the_goal_end_at_the_closest():
    start = Search((LOUDNESS,), 0, 3, 0, Direction.RAISE, False, steps=(0.0, 1.0, 2.0, 3.0))
    loud = {0.0: -6.0, 1.0: -4.0, 2.0: -0.5, 3.0: 2.0}
    landed, _ = solved(start, lambda x: (loud[x],))
    assert (landed.ending, landed.chosen.at) == (Ending.OUT_OF_REACH, 2.0)
    assert landed.why == "the setting has no finer step"


def test_a_floor_that_cannot_be_kept_is_out_of_reach():
    landed, _ = solved(search(0, 20, 0, Direction.RAISE, LOUDNESS, FLOOR), lambda x: (x - 5, 3.0))
    assert landed.ending is Ending.OUT_OF_REACH


def hump(drive_db: float) -> float:
    """A limiter that comes out quieter again when it is driven past 12 dB, as measured on a real one."""
    return -17.4 + drive_db if drive_db < 8 else -9.4 - 0.05 * (drive_db - 10) ** 2


def test_the_near_side_of_a_hump_is_taken():
    landed, _ = solved(search(-40, 40, 0, Direction.RAISE, LOUDNESS, FLOOR), lambda x: (hump(x) + 10, 8 - 11))
    assert landed.ending is Ending.ON_TARGET
    assert landed.chosen.at < 9


def test_a_hump_that_stays_below_the_goal_ends_near_its_top():
    landed, passes = solved(search(-40, 40, 30, Direction.RAISE), lambda x: (hump(x) + 8,))
    assert landed.ending is Ending.OUT_OF_REACH
    assert "lower again" in landed.why or "end of its way" in landed.why
    landed, passes = solved(search(-40, 40, 0, Direction.RAISE), lambda x: (hump(x) + 8,))
    assert "lower again" in landed.why
    assert hump(landed.chosen.at) > -9.6
    assert passes <= 10


def test_a_floor_broken_before_any_drive_is_said_and_nothing_is_turned_down():
    landed, passes = solved(search(-40, 40, 0, Direction.RAISE, LOUDNESS, FLOOR), lambda x: (x - 10, 2.0 + 0.001 * x))
    assert landed.ending is Ending.OUT_OF_REACH
    assert landed.why == "crest >= 8 dB is broken however little it is driven"
    assert landed.chosen.at == 0
    assert passes <= 3


def test_a_floor_broken_at_the_end_of_the_way_is_named():
    landed, passes = solved(search(-30, 0, 0, Direction.LOWER, LOUDNESS, FLOOR), lambda x: (-x - 10, 4.0))
    assert (landed.chosen.at, landed.why, passes) == (0, "crest >= 8 dB is broken however little it is driven", 1)


def test_a_floor_broken_by_too_much_drive_at_the_start_is_found_by_less():
    landed, _ = solved(search(-40, 40, 10, Direction.RAISE, LOUDNESS, FLOOR), lambda x: (x - 20, x - 6))
    assert landed.ending is Ending.STOPPED
    assert 5.9 <= landed.chosen.at <= 6.0


def test_coarse_steps_end_at_the_closest():
    landed, passes = solved(search(-40, 40, 0, Direction.RAISE), lambda x: (limiter(x) + 10,), step=3.0)
    best = min((abs(limiter(3.0 * k) + 10), 3.0 * k) for k in range(-13, 14))[1]
    assert landed.ending in (Ending.OUT_OF_REACH, Ending.ON_TARGET)
    assert landed.chosen.at == best
    assert passes < MOST_PASSES


def test_silence_counts_as_infinitely_far_below():
    assert excess_of({"loudness_lufs": None}, "loudness_lufs", -10, 1) == -math.inf


def test_silence_at_any_drive_ends():
    landed, _ = solved(search(-40, 40, 0, Direction.RAISE), lambda x: (-math.inf,))
    assert landed.ending is Ending.OUT_OF_REACH
    assert "no loudness" in landed.why


@given(
    goal=st.floats(-18, -6), knee=st.floats(0, 12), hardness=st.floats(0.1, 0.9), start=st.floats(0, 20),
    ripple=st.floats(0, 0.02),
)  # fmt: skip
def test_any_monotone_curve_lands_or_reaches_its_end(goal, knee, hardness, start, ripple):
    def curve(x: float) -> float:
        return -20 + x - hardness * 2 * math.log1p(math.exp((x - knee) / 2)) + ripple * math.sin(5 * x)

    landed, passes = solved(search(-40, 40, start, Direction.RAISE), lambda x: (curve(x) - goal,))
    if curve(40) > goal + 0.1:
        assert landed.ending is Ending.ON_TARGET, (landed, passes)
    assert passes <= 10
