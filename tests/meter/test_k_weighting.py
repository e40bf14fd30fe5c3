"""The K filter against the standard's table and the response that it prints for 48 kHz."""

import numpy as np
import pytest
from scipy import signal

from sweeper.meter.k_weighting import TABLE, k_filter


def gain_db(rate_hz, hz):
    _, response = signal.sosfreqz(k_filter(rate_hz), np.atleast_1d(hz), fs=rate_hz)
    return 20 * np.log10(np.abs(response))


def audible(rate_hz):
    return np.geomspace(20.0, min(20000.0, 0.45 * rate_hz), 2000)


def test_48_khz_is_the_standards_table():
    # ITU-R BS.1770-5 Annex 1, Tables 1 and 2
    assert k_filter(48000).tolist() == [
        [1.53512485958697, -2.69169618940638, 1.19839281085285, 1.0, -1.69065929318241, 0.73248077421585],
        [1.0, -2.0, 1.0, 1.0, -1.99004745483398, 0.99007225036621],
    ]


@pytest.mark.parametrize(
    ("hz", "expected_db"),
    [(25, -10.3928), (100, -1.1335), (500, 0.0425), (997, 0.6910), (1000, 0.6977), (2000, 3.0713), (10000, 4.0419)],
)
def test_response_at_48_khz(hz, expected_db):
    # Worked out from BS.1770-5 Annex 1 Tables 1 and 2; 0.691 at 997 Hz is Note 1
    assert gain_db(48000, hz)[0] == pytest.approx(expected_db, abs=0.0001)


@pytest.mark.parametrize("rate_hz", sorted(TABLE))
def test_tabled_rates_have_the_response_of_48_khz(rate_hz):
    # BS.1770-5 Annex 1: "the same frequency response that the specified filter provides at 48 kHz"
    hz = audible(rate_hz)
    assert np.abs(gain_db(rate_hz, hz) - gain_db(48000, hz)).max() < 0.0001


@pytest.mark.parametrize("rate_hz", [37800, 47999, 50000, 64000, 100000, 768000])
def test_any_other_rate_comes_close(rate_hz):
    # The same clause of BS.1770-5; the tolerance is ours: a tenth of what a meter shows
    hz = audible(rate_hz)
    assert np.abs(gain_db(rate_hz, hz) - gain_db(48000, hz)).max() < 0.0105


@pytest.mark.parametrize(("rate_hz", "within_db"), [(8000, 0.3), (11025, 0.15), (16000, 0.07), (22050, 0.032)])
def test_low_rates_come_as_close_as_documented(rate_hz, within_db):
    # The same clause of BS.1770-5; the shelf bends where half the rate is near, hence tolerances of ours
    hz = audible(rate_hz)
    assert np.abs(gain_db(rate_hz, hz) - gain_db(48000, hz)).max() < within_db


def test_rates_too_low_for_the_filter_are_refused():
    with pytest.raises(ValueError, match="8000 Hz or more, not 7999"):
        k_filter(7999)
