"""The terms of a search; and that measurements do follow the drive as it is said."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from signals import programme

from sweeper import meter
from sweeper.audio import AudioFormat
from sweeper.meter import quiet_copy
from sweeper.meter.harmonics import harmonics, tone
from sweeper.meter.quiet_copy import LESS_QUIET, QUIET
from sweeper.plan.reach_terms import (
    FALLS_WITH_DRIVE,
    RISES_WITH_DRIVE,
    Direction,
    Goal,
    Pass,
    Search,
    direction_for,
    excess_of,
    tell,
)
from sweeper.quantities import BY_KEY
from sweeper.render.inside import Seen

LOUDNESS = Goal("loudness -10", 0.1, one_sided=False)
PEAK = Goal("true peak -1", 0.1, one_sided=True, value=-1.0)
DRIVE = Search((LOUDNESS,), -40, 40, 3.0, Direction.RAISE, True)
CEILING = Search((PEAK,), -24, 0, -0.5, Direction.UNKNOWN, True)


@pytest.fixture(scope="module")
def driven():
    """Programme, and a tone, into a soft clipper, gentle and hard, as our meters have it."""
    found = []
    music, note = programme(6.0), tone(997, -20.0, 48000, 48000)[None]
    for drive_db in (0.0, 18.0):
        output, quiet, less_quiet, clipped = (
            np.tanh(sound * 10 ** (drive_db / 20)) for sound in (music, QUIET * music, LESS_QUIET * music, note)
        )  # fmt: skip
        panel = meter.advance(meter.start(AudioFormat(2, 48000)), output)
        copies = quiet_copy.advance(quiet_copy.start(AudioFormat(2, 48000)), output, quiet, less_quiet)
        seen = Seen(None, "", None, None, quiet_copy.finish(copies), harmonics(clipped, 997, 48000))
        found.append({**meter.finish(panel).values, **seen.measured})
    return found


@pytest.mark.parametrize("key", sorted(RISES_WITH_DRIVE | FALLS_WITH_DRIVE))
def test_more_drive_moves_what_is_said_to_move_that_way(driven, key):
    gentle, hard = (found[key] for found in driven)
    assert (hard > gentle) == (key in RISES_WITH_DRIVE)
    assert abs(hard - gentle) > (0.05 if "median" in key else 0.2)
    assert direction_for(f"a stage.{key}", Direction.RAISE) is direction_for(key, Direction.RAISE)


def test_the_way_to_more_of_a_measurement_is_the_way_of_the_drive_or_the_other():
    assert direction_for("loudness_lufs", Direction.RAISE) is Direction.RAISE
    assert direction_for("loudness_lufs", Direction.LOWER) is Direction.LOWER
    assert direction_for("plr_db", Direction.RAISE) is Direction.LOWER
    assert direction_for("crest_db", Direction.LOWER) is Direction.RAISE
    assert direction_for("crest_db", Direction.UNKNOWN) is Direction.UNKNOWN


@pytest.mark.parametrize("key", sorted(set(BY_KEY) - RISES_WITH_DRIVE - FALLS_WITH_DRIVE))
def test_of_everything_else_nobody_knows_it_beforehand(key):
    assert direction_for(key, Direction.RAISE) is Direction.UNKNOWN


def test_a_ceiling_may_not_be_passed_and_a_target_by_as_much_as_is_near():
    assert PEAK.most == 0.0
    assert LOUDNESS.most == 0.1


@pytest.mark.parametrize(
    ("value", "sign", "excess"), [(-9.0, 1, 1.0), (-9.0, -1, -1.0), (-12.5, 1, -2.5), (-12.5, -1, 2.5)]
)
def test_excess_is_how_far_past_the_goal_a_floor_is_passed_downwards(value, sign, excess):
    assert excess_of({"loudness_lufs": value}, "loudness_lufs", -10.0, sign) == pytest.approx(excess)


@pytest.mark.parametrize("values", [{}, {"loudness_lufs": None}])
@pytest.mark.parametrize("sign", [1, -1])
def test_silence_is_infinitely_far_below(values, sign):
    assert excess_of(values, "loudness_lufs", -10.0, sign) == -math.inf


def test_home_is_where_the_chain_file_has_it_even_when_another_variant_taught_where_to_begin():
    assert DRIVE.rest == 3.0
    assert replace(DRIVE, home=0.0).rest == 0.0
    assert DRIVE.width == 80


def test_only_a_peak_in_decibels_that_may_not_be_passed_makes_a_ceiling():
    assert CEILING.ceiling
    assert not DRIVE.ceiling
    assert not replace(CEILING, decibels=False).ceiling
    assert not replace(CEILING, goals=(replace(PEAK, value=math.nan),)).ceiling
    assert not replace(CEILING, goals=(replace(PEAK, one_sided=False),)).ceiling


def test_what_is_told_is_kept_in_order_and_the_search_before_is_as_it_was():
    first, second = Pass(0.0, (-2.0,)), Pass(2.0, (-0.1,))
    search = tell(tell(DRIVE, first), second)
    assert search.passes == (first, second)
    assert DRIVE.passes == ()
    assert replace(search, passes=()) == DRIVE
