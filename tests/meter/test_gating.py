"""The gates and the percentiles, on powers written by hand."""

import numpy as np
import pytest

from sweeper.meter.gating import ABSOLUTE_GATE_POWER, integrated, loudness_range


def powers(*lufs):
    return 10.0 ** ((np.array(lufs) + 0.691) / 10.0)


def test_one_block_reads_its_own_loudness():
    assert integrated(powers(-23.0)).value == pytest.approx(-23.0, abs=1e-9)


def test_averages_are_of_power_not_of_decibels():
    # ITU-R BS.1770-5 Annex 1 eq. (7); the power mean of -20 and -26 is -22.0371
    assert integrated(powers(-20.0, -26.0)).value == pytest.approx(-22.0371, abs=1e-4)


def test_blocks_exactly_at_the_absolute_gate_do_not_count_for_loudness():
    # BS.1770-5 Annex 1 eq. (4): strictly greater
    finding = integrated(np.array([ABSOLUTE_GATE_POWER]))
    assert finding.value is None
    assert finding.reason == "nothing is louder than -70 LUFS"


def test_blocks_more_than_10_lu_under_the_rest_do_not_count():
    # BS.1770-5 Annex 1 eq. (6); two blocks of -20 and one of -40: the mean is -21.7, the gate -31.7
    assert integrated(powers(-20.0, -20.0, -40.0)).value == pytest.approx(-20.0, abs=1e-9)


def test_the_relative_gate_stands_on_what_passed_the_absolute_one():
    # BS.1770-5 Annex 1 eq. (6): were the silence averaged in, the gate would fall to -40 and let -35 pass
    assert integrated(powers(-20.0, -35.0, *[-90.0] * 100)).value == pytest.approx(-20.0, abs=1e-9)


def test_blocks_exactly_at_the_absolute_gate_count_for_the_range():
    # EBU Tech 3342 section 3.1: at or above
    assert loudness_range(np.array([ABSOLUTE_GATE_POWER]), 60.0).value == 0.0


def test_the_range_leaves_out_what_is_20_lu_under():
    # EBU Tech 3342 section 3.1; the -45 block lies more than 20 LU under the power mean of the rest
    assert loudness_range(powers(*[-20.0] * 30, -45.0, -45.0, -45.0, -45.0), 60.0).value == pytest.approx(0.0)


@pytest.mark.parametrize(("count", "expected"), [(21, 17), (11, 9), (2, 1), (12, 9), (16, 12)])
def test_percentiles_take_the_nearest_block_and_round_halves_up(count, expected):
    # EBU Tech 3342 section 5: sorted[round((n - 1) * p / 100 + 1)], round half away from zero; blocks 1 LU apart
    # over at most 20 LU; e.g. 16 blocks: 10 % of 15 = 1.5 -> 2, 95 % of 15 = 14.25 -> 14, 14 - 2 = 12
    ladder = powers(*np.arange(-20.0, -20.0 + count))
    assert loudness_range(ladder, 60.0).value == pytest.approx(expected, abs=1e-9)


def test_a_range_of_less_than_a_minute_says_that_it_is_not_stable():
    # EBU Tech 3341 section 2.4
    assert "not yet stable" in loudness_range(powers(-20.0), 59.9).reason
    assert loudness_range(powers(-20.0), 60.0).reason == ""


def test_a_range_of_nothing_audible_does_not_exist():
    assert loudness_range(powers(-70.1, -80.0), 60.0).value is None
