"""What is foreseen of settings that are solved together."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sweeper.plan.foreseen import ATTENUATION_SLOPE, CEILING_SHARE, GAIN_SHARE, Place, foreseen
from sweeper.plan.reach import Direction, Goal, Search

DRIVE = Search((Goal("l", 0.1, False),), -40, 40, 0, Direction.RAISE, True)
CEILING = Search((Goal("p", 0.1, True, -1.0),), -24, 0, 0, Direction.UNKNOWN, True)
TRIM = Search((Goal("a", 0.1, False),), -40, 40, 0, Direction.RAISE, True)
LOUDNESS, PEAK = Place("loudness_lufs", None, 1), Place("true_peak_dbtp", None, 1)


def shares(searches, places):
    return [search.shares for search in foreseen(searches, places)]


def test_what_stands_behind_a_stage_does_nothing_to_it():
    found = shares((DRIVE, CEILING, TRIM), (LOUDNESS, PEAK, Place("glue.attenuation_db", 0, 0)))
    assert found[2][:2] == (0.0, 0.0)
    assert found[0][2] == GAIN_SHARE, "but it is heard at the end"
    assert found[0][1] is None and found[1] == (None, None, None), "what ceilings do, passes and limiters tell"


def test_an_output_trim_does_nothing_to_its_own_stage():
    behind = Place("loudness_lufs", None, 0, behind=True)
    assert shares((DRIVE, TRIM), (behind, Place("glue.attenuation_db", 0, 0)))[1][0] == 0.0
    before = replace(behind, behind=False)
    assert shares((DRIVE, TRIM), (before, Place("glue.attenuation_db", 0, 0)))[1][0] is None


def test_a_ceiling_works_against_the_trim_of_its_own_stage():
    found = shares((DRIVE, CEILING, TRIM), (Place("loudness_lufs", None, 0), PEAK, Place("limiter.residue_db", 1, 1)))
    assert found[2][1] == CEILING_SHARE
    assert found[2][0] is None, "what the stage before does to it, passes tell"


def test_a_threshold_that_is_lowered_is_driven_as_a_trim_that_is_raised():
    lowered = replace(DRIVE, direction=Direction.LOWER)
    found = shares((lowered, TRIM), (LOUDNESS, Place("glue.attenuation_db", 0, 0)))
    assert found[0][1] == -GAIN_SHARE
    other = shares((DRIVE, replace(TRIM, direction=Direction.LOWER)), (LOUDNESS, Place("glue.attenuation_db", 0, 0)))
    assert other[0][1] is None, "a threshold lowered may come out softer or louder"


@pytest.mark.parametrize("search", [DRIVE, replace(DRIVE, decibels=False)])
def test_nothing_is_foreseen_of_settings_that_are_not_in_decibels(search):
    assert shares((search, replace(TRIM, decibels=False)), (LOUDNESS, Place("glue.attenuation_db", 0, 0)))[0][1] is None


def test_a_slope_is_foreseen_of_attenuation_only_and_what_was_taught_stays():
    place = Place("glue.attenuation_most_db", 0, 0)
    assert foreseen((TRIM,), (place,))[0].slope == ATTENUATION_SLOPE
    assert foreseen((replace(TRIM, direction=Direction.LOWER),), (place,))[0].slope == -ATTENUATION_SLOPE
    assert foreseen((replace(TRIM, slope=0.9),), (place,))[0].slope == 0.9
    assert foreseen((replace(TRIM, direction=Direction.UNKNOWN),), (place,))[0].slope is None
    assert foreseen((replace(TRIM, decibels=False),), (place,))[0].slope is None
    assert foreseen((TRIM,), (Place("glue.residue_db", 0, 0),))[0].slope is None
    assert foreseen((DRIVE,), (LOUDNESS,))[0].slope is None
