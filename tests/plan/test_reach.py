"""The solver on curves of known shape."""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from limiter_models import any_limiter

from sweeper.plan.reach import (
    MOST_PASSES,
    Direction,
    Ending,
    Goal,
    Landed,
    Pass,
    Search,
    ask,
    direction_for,
    excess_of,
    tell,
)

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


def test_the_top_of_a_wide_hump_is_found_in_few_passes():
    landed, passes = solved(search(-40, 40, 0, Direction.RAISE), lambda x: (-3 - 0.02 * (x - 14) ** 2,))
    assert (landed.ending, landed.why) == (Ending.OUT_OF_REACH, "driven harder it comes out lower again")
    assert landed.chosen.excess[0] == pytest.approx(-3, abs=0.1)
    assert passes <= 5


def test_a_loudness_that_levels_off_is_looked_at_from_the_end_of_the_way():
    landed, passes = solved(search(-30, 0, 0, Direction.LOWER), lambda x: (min(-x - 6, -0.9),))
    assert (landed.ending, landed.why) == (Ending.OUT_OF_REACH, "the end of its way, -30")
    assert landed.chosen.excess[0] == -0.9
    assert passes <= 4


def test_what_begins_flat_is_still_found():
    landed, passes = solved(search(-60, 0, 0, Direction.LOWER), lambda x: (max(-x - 25, 0) * 0.5 - 5,))
    assert landed.ending is Ending.ON_TARGET
    assert passes <= 7


def test_a_floor_broken_before_any_drive_is_said_and_nothing_is_turned_down():
    landed, passes = solved(search(-40, 40, 0, Direction.RAISE, LOUDNESS, FLOOR), lambda x: (x - 10, 2.0 + 0.001 * x))
    assert landed.ending is Ending.OUT_OF_REACH
    assert landed.why == "crest >= 8 dB is broken however little it is driven"
    assert landed.chosen.at == 0
    assert passes <= 3


def test_a_floor_that_two_close_passes_break_is_still_looked_for_by_less_drive():
    passes = (Pass(5.27, (-5.47, 0.126)), Pass(5.17, (-5.56, 0.034)))
    back = ask(replace(search(-60, 60, 5, Direction.RAISE, LOUDNESS, FLOOR), passes=passes))
    assert isinstance(back, float)
    assert 5.0 < back < 5.17


def test_a_floor_broken_by_a_little_is_mended_by_a_little():
    back = ask(replace(search(-60, 60, 5, Direction.RAISE, LOUDNESS, FLOOR), passes=(Pass(5.27, (-5.5, 0.16)),)))
    assert back == pytest.approx(5.27 - 0.21)


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


PEAK = Goal("true peak -1", 0.1, one_sided=True, value=-1.0)


def ceiling(start: float = 0.0, direction: Direction = Direction.UNKNOWN, **more: float) -> Search:
    return Search((PEAK,), -24, 0, start, direction, True, **more)


@pytest.mark.parametrize("over", [0.2, 0.5, 0.9])
@pytest.mark.parametrize("start", [0.0, -6.0])
def test_a_peak_that_may_not_be_passed_is_met_from_below(over, start):
    landed, passes = solved(ceiling(start), lambda x: (x + over + 1,))
    assert landed.ending is Ending.ON_TARGET
    assert -0.1 <= landed.chosen.excess[0] <= 0.0
    assert passes == 2


def test_a_peak_a_hair_over_what_may_not_be_passed_is_not_on_target():
    landed, _ = solved(ceiling(-1.5), lambda x: (x + 1.55,))
    assert landed.ending is Ending.ON_TARGET
    assert landed.chosen.at < -1.55


@pytest.mark.parametrize("direction", [Direction.UNKNOWN, Direction.RAISE])
def test_a_ceiling_that_nothing_reaches_stays_where_it_was(direction):
    landed, passes = solved(ceiling(-2.0, direction), lambda x: (min(x + 0.3, -4.0) + 1,))
    assert landed.ending is Ending.NOT_ENGAGED
    assert landed.chosen.at == -2.0
    assert passes == 2


def test_a_ceiling_at_the_end_of_its_way_is_as_open_as_can_be():
    landed, passes = solved(ceiling(0.0), lambda x: (min(x + 0.3, -4.0) + 1,))
    assert (landed.ending, landed.chosen.at, landed.why, passes) == (
        Ending.NOT_ENGAGED, 0.0, "the end of its way, 0", 1)  # fmt: skip


def test_a_ceiling_that_nothing_reaches_goes_home_from_where_it_was_taught_to_start():
    landed, _ = solved(ceiling(-3.0, home=-2.0, slope=1.0), lambda x: (min(x + 0.3, -4.0) + 1,))
    assert (landed.ending, landed.chosen.at) == (Ending.NOT_ENGAGED, -2.0)


def test_a_ceiling_that_holds_it_too_low_where_it_was_is_opened_until_nothing_reaches_it():
    landed, _ = solved(ceiling(-12.0), lambda x: (min(x + 0.3, -4.0) + 1,))
    assert landed.ending is Ending.NOT_ENGAGED
    assert landed.chosen.excess[0] == -3.0


def test_a_peak_still_too_high_at_the_end_of_the_way_names_the_end():
    landed, _ = solved(ceiling(), lambda x: (max(x, -3.0) + 4.2,))
    assert landed.ending is Ending.OUT_OF_REACH
    assert landed.why == "the end of its way, -24"


def test_a_ceiling_that_works_the_wrong_way_round_is_found_out():
    landed, _ = solved(ceiling(-10.0), lambda x: (-x - 20,))
    assert landed.ending is Ending.ON_TARGET


def test_of_passes_that_miss_the_one_that_breaks_no_ceiling_is_kept():
    steps = (-3.0, -2.0, -1.0, 0.0)
    start = Search((PEAK,), -3, 0, 0, Direction.RAISE, True, steps=steps)
    landed, _ = solved(start, lambda x: (x + 1.02,))
    assert (landed.ending, landed.chosen.at) == (Ending.OUT_OF_REACH, -2.0)


def test_silence_is_below_any_ceiling():
    landed, passes = solved(ceiling(-1.0), lambda x: (-math.inf,))
    assert (landed.ending, passes) == (Ending.NOT_ENGAGED, 1)


def test_what_was_taught_is_where_a_search_starts_and_how_far_it_goes():
    start = Search((LOUDNESS,), -40, 40, 8.0, Direction.RAISE, True, slope=0.5)
    assert ask(start) == 8.0
    assert ask(tell(start, Pass(8.0, (-0.4,)))) == pytest.approx(8.8)
    assert ask(tell(Search((LOUDNESS,), -40, 40, 8.0, Direction.RAISE, True), Pass(8.0, (-0.4,)))) == pytest.approx(8.4)


def test_a_taught_start_between_steps_is_put_on_one():
    assert ask(Search((LOUDNESS,), 0, 3, 1.6, Direction.RAISE, False, steps=(0.0, 1.0, 2.0, 3.0))) == 2.0
    assert ask(Search((LOUDNESS,), 0, 3, 9.0, Direction.RAISE, False)) == 3.0


def test_a_taught_slope_against_the_known_direction_is_not_believed():
    start = Search((LOUDNESS,), -40, 40, 8.0, Direction.RAISE, True, slope=-0.5)
    assert ask(tell(start, Pass(8.0, (-0.4,)))) == pytest.approx(8.4)


def test_drive_raises_levels_and_lowers_what_stands_over_them():
    for drive in (Direction.RAISE, Direction.LOWER):
        assert direction_for("loudness_lufs", drive) is drive
        assert direction_for("crest_db", drive) is drive.opposite is not drive
        assert direction_for("correlation", drive) is Direction.UNKNOWN
        for inside in ("attenuation_db", "attenuation_share_pct", "residue_db", "distortion_pct"):
            assert direction_for(f"limiter.{inside}", drive) is direction_for(inside, drive) is drive
    assert direction_for("plr_db", Direction.UNKNOWN) is Direction.UNKNOWN


def test_loudness_by_the_drive_of_any_limiter_takes_few_passes():
    rng = np.random.default_rng(2)
    taken = []
    for _ in range(300):
        limiter, goal = any_limiter(rng), rng.uniform(-13, -7.5)
        landed, passes = solved(search(-40, 40, 0, Direction.RAISE),
                                lambda x, limiter=limiter, goal=goal: (limiter.loudness(x, -1.0) - goal,))  # fmt: skip
        if landed.ending is Ending.ON_TARGET:
            taken.append(passes)
        else:
            most = max(limiter.loudness(x, -1.0) for x in np.arange(0, 40, 0.5))
            assert most < goal - 0.05, "only what no drive reaches is out of reach"
    assert len(taken) > 200
    assert statistics.median(taken) <= 3
    assert max(taken) <= 10


def test_a_first_pass_right_at_a_bound_is_stopped_by_it():
    """As in a variant whose teacher was stopped there: there is no pass beyond that has broken the bound."""
    goals = Goal("loudness -10", 0.1, one_sided=False), Goal("crest >= 8 dB", 0.1, one_sided=True, by_gain=0.0)
    begun = Search(goals, -40, 40, 7.0, Direction.RAISE, True, slope=0.9)
    landed = ask(tell(begun, Pass(7.0, (-4.7, -0.05))))
    assert isinstance(landed, Landed)
    assert (landed.ending, landed.why) == (Ending.STOPPED, "crest >= 8 dB")
