"""Where one file lies in another: delays made exactly, and what several places say together."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import lfilter, resample
from signals import noise

from sweeper.meter.alignment import Lag, Place, centre, fine_lag, least_likeness, settled, whole_lag

RATE_HZ = 16000


def sound(seconds=2.0, seed=1, channels=2):
    """Noise that falls by 6 dB an octave, as music does."""
    return lfilter([0.05], [1, -0.95], noise(seconds, RATE_HZ, channels, seed=seed))


def place(at_s, offset_frames, likeness=0.9, left_between=1.0):
    return Place(at_s, offset_frames, Lag(round(offset_frames), offset_frames, likeness, 1.0, left_between, (False,)))


@pytest.mark.parametrize("late", [0, 1, 777, 8000])
def test_a_stretch_is_found_to_the_sample(late):
    one = sound(1.0)
    other = 0.1 * sound(2.0, seed=3)
    other[:, late : late + one.shape[1]] += -0.5 * one
    lag, likeness = whole_lag(one, other)
    assert lag == late
    assert likeness > 0.9


@pytest.mark.parametrize("eighths", [1, 3, 4, 6])
def test_between_the_samples_it_is_found_to_a_thousandth(eighths):
    whole = sound()
    fine = resample(whole, 8 * whole.shape[1], axis=1)  # outside reference: SciPy's interpolation by Fourier
    one, other = fine[:, ::8], fine[:, eighths::8]
    found = fine_lag(one[:, 100:-100], other)
    assert found.frames == pytest.approx(100 - eighths / 8, abs=1e-3)
    assert found.left_between < 0.05 * found.left_whole


def test_saturation_noise_and_a_lift_of_the_treble_do_not_hide_it():
    one = sound()
    other = np.tanh(3 * np.pad(one, ((0, 0), (500, 500)))) + 0.02 * sound(2.0 + 1000 / RATE_HZ, seed=9)
    found = fine_lag(one, lfilter([1.5, -0.5], [1], other))
    assert abs(found.frames - 500) < 1
    assert found.likeness > 0.5
    assert found.inverted == (False, False)


def test_silence_is_like_nothing():
    assert whole_lag(sound(1.0), np.zeros((2, 2 * RATE_HZ)))[1] == 0.0
    assert fine_lag(np.zeros((2, RATE_HZ)), sound(2.0)).likeness == 0.0


@pytest.mark.parametrize("gain", [1.0, -0.5])
def test_half_a_frame_of_a_sound_without_a_fall_is_not_taken_for_its_opposite(gain):
    """White noise: a frame and a half away its opposite is more like it at whole frames than it is itself."""
    whole = noise(2.0, RATE_HZ, 2)
    fine = resample(whole, 2 * whole.shape[1], axis=1)  # outside reference: SciPy's interpolation by Fourier
    found = fine_lag(fine[:, ::2][:, 100:-100], gain * fine[:, 1::2])
    assert found.frames == pytest.approx(99.5, abs=1e-3)
    assert found.inverted == (gain < 0, gain < 0)
    assert found.whole in (99, 100)
    assert found.left_between < 1e-3


def test_a_place_lies_where_its_energy_is():
    quiet = np.zeros((2, 4000))
    assert centre(quiet) == 2000
    quiet[:, 3000] = 1.0
    assert centre(quiet) == pytest.approx(2999.5)


def test_each_channel_has_its_own_polarity():
    one = sound()
    found = fine_lag(one[:, 50:-50], one * [[1], [-0.7]])
    assert (found.whole, found.inverted) == (50, (False, True))
    assert found.likeness > 0.98  # cross-talk of gains alone


def test_other_noise_is_not_alike_however_short():
    for seconds in (0.005, 0.05, 1.0):
        one, other = sound(seconds, seed=1, channels=1), sound(1.5 * seconds, seed=2, channels=1)
        assert whole_lag(one, other)[1] < least_likeness(one.shape[1])


def test_a_filter_is_no_delay_and_a_fraction_is():
    at_s = np.arange(5.0)
    assert settled([place(t, 0.2, left_between=0.5) for t in at_s], RATE_HZ).offset_frames == 0.0
    assert settled([place(t, 0.2, left_between=0.1) for t in at_s], RATE_HZ).offset_frames == 0.2


def test_a_clock_that_runs_otherwise_is_told_in_ppm():
    places = [place(t, 3 + 20e-6 * RATE_HZ * t, left_between=0.1) for t in np.linspace(1, 59, 9)]
    found = settled(places, RATE_HZ)
    assert found.drift_ppm == pytest.approx(20.0)
    assert found.offset_frames == pytest.approx(3 + 20e-6 * RATE_HZ * 30)  # the middle
    assert not found.wanders


def test_an_edit_is_no_clock_and_the_commonest_offset_holds():
    found = settled([place(t, 0.0 if t < 4 else 480.0 * (t - 3) ** 2) for t in np.arange(9.0)], RATE_HZ)
    assert (found.drift_ppm, found.wanders, found.offset_frames) == (None, True, 0.0)


def test_a_steady_offset_has_no_drift_and_what_is_unlike_has_no_say():
    places = [place(t, 7.0) for t in np.arange(8.0)] + [place(9.0, -3000.0, likeness=0.1)]
    found = settled(places, RATE_HZ)
    assert (found.drift_ppm, found.wanders, found.offset_frames, len(found.places)) == (None, False, 7.0, 8)
    assert settled(places[-1:], RATE_HZ) is None
