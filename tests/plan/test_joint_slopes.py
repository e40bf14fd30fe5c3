"""Slopes read off passes, against curves whose slopes are known: straight ones, and limiters by small differences."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from limiter_models import Limiter, music

from sweeper.plan.joint_slopes import JointPass, doubt, engaged, slopes
from sweeper.plan.reach import Direction, Goal, Search

LOUDNESS = Goal("loudness -10", 0.1, one_sided=False)
CREST = Goal("crest 8", 0.1, one_sided=False)
PEAK = Goal("true peak -1", 0.1, one_sided=True, value=-1.0)
DRIVE = Search((LOUDNESS, CREST), -40, 40, 0.0, Direction.RAISE, True)
THRESHOLD = Search((LOUDNESS, CREST), -40, 0, 0.0, Direction.LOWER, True)
CEILING = Search((PEAK,), -24, 0, 0.0, Direction.UNKNOWN, True)
KNOB = Search((LOUDNESS, CREST), 0, 100, 50.0, Direction.UNKNOWN, False)
MIX = Search((CREST,), 0, 10, 5.0, Direction.UNKNOWN, False)


def straight(own: float, cross: float, second: float = 0.0, peak: float = 0.0):
    """Passes of two settings on planes: the first reach's goals have these slopes."""
    def at(one: float, other: float) -> JointPass:
        return JointPass((one, other), ((own * one + cross * other - 3, second * one), (peak,)))

    return at


def test_a_plane_shows_both_of_its_slopes():
    at = straight(-0.02, 0.3, second=0.07)
    passes = [at(50, 5), at(54, 5), at(54, 5.6), at(51, 5.3), at(53, 5.1)]
    own, cross = slopes((KNOB, MIX), passes, 0, 0)
    assert own == pytest.approx(-0.02, rel=0.12)
    assert cross == pytest.approx(0.3, rel=0.08)
    assert slopes((KNOB, MIX), passes, 0, 1) == (pytest.approx(0.07, rel=0.05), pytest.approx(0.0, abs=0.02))


def test_the_second_setting_is_read_as_the_first_is():
    places = [(5.0, 50.0), (5.0, 57.0), (5.5, 57.0), (5.5, 52.0), (5.2, 54.0)]
    passes = [JointPass((a, b), ((0.0,), (0.9 * a + 0.4 * b - 30,))) for a, b in places]
    cross, own = slopes((MIX, KNOB), passes, 1, 0)
    assert own == pytest.approx(0.4, rel=0.1)
    assert cross == pytest.approx(0.9, rel=0.1)


def test_before_anything_is_seen_a_decibel_is_a_decibel_unless_another_variant_taught_it():
    only = [JointPass((0.0, 0.0), ((-8.0, 2.0), (-5.0,)))]
    assert slopes((DRIVE, CEILING), only, 0, 0)[0] == 1.0
    assert slopes((THRESHOLD, CEILING), only, 0, 0)[0] == -1.0
    assert slopes((DRIVE, CEILING), only, 0, 1) == (0.0, 0.0), "of a bound nothing is foreseen"
    assert slopes((KNOB, MIX), only, 0, 0) == (0.0, 0.0)
    assert slopes((replace(KNOB, direction=Direction.RAISE), MIX), only, 0, 0) == (0.0, 0.0), "a way is no slope"
    taught = Search((LOUDNESS,), -40, 40, 0.0, Direction.RAISE, True, slope=0.6)
    assert slopes((taught, CEILING), only, 0, 0)[0] == 0.6


def test_of_a_ceiling_a_bound_is_foreseen_to_gain_what_a_gain_on_the_whole_does_less_what_the_drive_does():
    floor, level = replace(CREST, by_gain=0.0), replace(CREST, by_gain=1.0)
    held = [JointPass((4.0, -1.5), ((-6.0, -0.9), (0.0,))), JointPass((5.0, -1.5), ((-5.4, 0.0), (0.0,)))]
    free = [replace(p, excess=(p.excess[0], (-5.0,))) for p in held]
    for goal, gained in ((floor, -0.9), (level, 0.1), (CREST, 0.0)):
        drive = replace(DRIVE, goals=(LOUDNESS, goal))
        assert slopes((drive, CEILING), held, 0, 1) == pytest.approx((0.9, gained))
        assert slopes((drive, CEILING), free, 0, 1)[1] == 0.0, "nothing stands at the ceiling"
        threshold = replace(THRESHOLD, goals=(LOUDNESS, goal))
        made_up = 0.0 if goal is CREST else goal.by_gain
        assert slopes((threshold, CEILING), held, 0, 1)[1] == pytest.approx(made_up)


def test_of_a_ceiling_loudness_is_foreseen_to_gain_what_the_drive_does_not():
    """At the ceiling, from -0.1 to 3 dB over its number; free below; a threshold is made up to it whole."""
    def passes(over_db: float) -> list[JointPass]:
        return [JointPass((0.0, -2.0), ((-8.0, 0.0), (-2.0 + over_db - PEAK.value,)))]

    taught = Search((LOUDNESS,), -40, 40, 0.0, Direction.RAISE, True, slope=0.6)
    assert slopes((taught, CEILING), passes(0.5), 0, 0)[1] == pytest.approx(0.4)
    assert slopes((taught, CEILING), passes(-1.0), 0, 0)[1] == 0.0
    assert slopes((taught, CEILING), passes(4.0), 0, 0)[1] == 0.0
    assert slopes((THRESHOLD, CEILING), passes(0.5), 0, 0)[1] == 1.0


@pytest.mark.parametrize(("over_db", "expected"), [(-0.2, False), (0.0, True), (0.5, True), (2.9, True), (3.1, False)])
def test_a_ceiling_is_engaged_when_the_peaks_stand_close_over_it(over_db, expected):
    one = JointPass((0.0, -3.0), ((0.0, 0.0), (-3.0 + over_db + 1.0,)))
    assert engaged((DRIVE, CEILING), 1, one) is expected
    assert engaged((DRIVE, CEILING), 0, one) is False, "a drive never is"
    assert engaged((DRIVE, replace(CEILING, decibels=False)), 1, one) is False, "nor is what is not in dB"


def test_a_pass_is_doubted_more_while_its_peaks_follow_the_drive():
    held = JointPass((0.0, -3.0), ((0.0, 0.0), (-1.6,)))
    free = JointPass((0.0, -3.0), ((0.0, 0.0), (-5.0,)))
    assert doubt((DRIVE, CEILING), 1, 0, free) == 1.0
    assert doubt((DRIVE, CEILING), 1, 0, held) < 0.5
    assert doubt((DRIVE, CEILING), 0, 1, free) == doubt((DRIVE, CEILING), 0, 1, held) < 0.5
    whole_way = doubt((MIX, KNOB), 0, 1, held) * KNOB.width
    assert whole_way == doubt((KNOB, MIX), 0, 1, held) * MIX.width, "over the whole way"


def test_passes_far_away_and_passes_in_silence_tell_nothing():
    near = [JointPass((0.0, 0.0), ((-8.0, 0.0), (0.0,))), JointPass((1.0, 0.0), ((-7.5, 0.5), (0.0,)))]
    told = slopes((DRIVE, MIX), near, 0, 0)
    silent = JointPass((0.5, 0.0), ((-np.inf, -np.inf), (0.0,)))
    assert slopes((DRIVE, MIX), [near[0], silent, near[1]], 0, 0) == told
    far = JointPass((-30.0, 0.0), ((300.0, 0.0), (0.0,)))
    assert slopes((DRIVE, MIX), [far, *near], 0, 0) == told


@pytest.mark.parametrize("drive_db", [6.0, 9.0, 12.0])
def test_on_a_limiter_they_are_those_of_small_differences(drive_db):
    """Three passes half a dB apart, held against hundredths of a dB on the model."""
    limiter = Limiter(music(np.random.default_rng(11)))

    def at(drive: float, ceiling: float) -> JointPass:
        return JointPass((drive, ceiling), ((limiter.loudness(drive, ceiling) + 10, 0.0),
                                            (limiter.true_peak(drive, ceiling) + 1,)))  # fmt: skip

    def true(step: float, *which: int) -> float:
        one, other = at(drive_db, -1.0), at(drive_db + step * which[0], -1.0 + step * which[1])
        return (other.excess[0][0] - one.excess[0][0]) / step

    passes = [at(drive_db - 0.5, -1.0), at(drive_db, -1.5), at(drive_db, -1.0)]
    own, cross = slopes((DRIVE, CEILING), passes, 0, 0)
    assert own == pytest.approx(true(-0.01, 1, 0), abs=0.12)
    assert cross == pytest.approx(true(-0.01, 0, 1), abs=0.12)


def test_a_space_of_three_shows_all_of_its_slopes():
    """Planted: 0.8, 0.3 and 0.6 a decibel."""
    steps = [(0, 0, 0), (0.8, 0, 0), (0.8, -0.9, 0), (0.8, -0.9, 1.0), (0.2, -0.4, 0.4)]
    passes = [JointPass(at, ((0.8 * at[0] + 0.3 * at[1] + 0.6 * at[2] - 3, 0.0), (at[1],), (at[2], 0.0)))
              for at in steps]  # fmt: skip
    found = slopes((DRIVE, CEILING, replace(DRIVE, shares=(None, None, None))), passes, 0, 0)
    assert found == pytest.approx((0.8, 0.3, 0.6), abs=0.1)


def test_moves_of_settings_that_do_the_same_count_together_in_a_secant():
    told = replace(DRIVE, shares=(None, None, 0.5))
    both = [JointPass((0.0, 0.0, 0.0), ((-8.0, 0.0), (0.0,), (0.0, 0.0))),
            JointPass((4.0, 0.0, 4.0), ((-6.2, 0.0), (0.0,), (0.0, 0.0)))]  # fmt: skip
    own, _, cross = slopes((told, CEILING, DRIVE), both, 0, 0)
    assert (own, cross) == (pytest.approx(0.3), pytest.approx(0.15)), "1.8 dB for 4 and half of 4"


def test_moves_that_cancel_tell_no_secant():
    told = replace(DRIVE, shares=(None, None, 1.0), slope=0.7)
    apart = [JointPass((0.0, 0.0, 0.0), ((-8.0, 0.0), (0.0,), (0.0, 0.0))),
             JointPass((4.0, 0.0, -3.5), ((-9.0, 0.0), (0.0,), (0.0, 0.0)))]  # fmt: skip
    assert slopes((told, CEILING, DRIVE), apart, 0, 0)[0] == pytest.approx(0.7)


def test_of_what_a_setting_cannot_do_there_is_no_doubt():
    deaf, result = replace(DRIVE, shares=(0.0, 0.0)), JointPass((0.0, 0.0), ((0.0, 0.0), (0.0,)))
    assert doubt((deaf, CEILING), 0, 1, result) == 0.0
    assert doubt((DRIVE, CEILING), 0, 1, result) > 0.0
