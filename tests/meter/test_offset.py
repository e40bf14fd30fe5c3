"""How much later one recording of a sound begins than another: on offsets that are known."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import lfilter, resample_poly

from sweeper.meter.offset import offset_of

RATE_HZ = 44100


def sound(seconds=2.0, seed=1, channels=2):
    """Noise with the spectrum of music: falling by 6 dB an octave above 100 Hz."""
    white = np.random.default_rng(seed).standard_normal((channels, round(seconds * RATE_HZ)))
    return lfilter([0.02], [1, -0.985], white).astype(np.float32)


@pytest.mark.parametrize("late", [-3000, -1, 0, 1, 777, 20000])
@pytest.mark.parametrize("gain", [1.0, -0.3])
def test_it_is_found_to_the_sample_whatever_the_level_and_the_polarity(late, gain):
    sent = sound()
    got = np.zeros((2, sent.shape[1] + 40000), np.float32)
    first = max(0, late)
    part = sent[:, max(0, -late) :]
    got[:, first : first + part.shape[1]] = gain * part
    offset = offset_of(sent, got, -30000, 30000)
    assert round(offset.frames) == late
    assert abs(offset.frames - late) < 0.05
    assert offset.inverted is (gain < 0)
    assert offset.likeness > 0.9


def test_between_the_samples_it_is_found_to_a_tenth():
    fine = resample_poly(sound(), 8, 1, axis=1)
    sent, got = fine[:, ::8], fine[:, 5::8]  # 5/8 of a frame earlier
    assert offset_of(sent, got, -100, 100).frames == pytest.approx(-0.625, abs=0.1)


def test_saturation_noise_and_a_lift_of_the_treble_do_not_hide_it():
    sent = sound()
    heard = np.tanh(3 * np.pad(sent, ((0, 0), (500, 0)))) + 0.02 * sound(seed=9, seconds=2 + 500 / RATE_HZ)
    heard = lfilter([1.5, -0.5], [1], heard)
    offset = offset_of(sent, heard, -5000, 5000)
    assert abs(offset.frames - 500) < 1
    assert offset.likeness > 0.5


def test_another_sound_is_not_alike_and_silence_is_like_nothing():
    assert offset_of(sound(seed=1), sound(seed=2), -5000, 5000).likeness < 0.1
    assert offset_of(sound(), np.zeros((2, 50000), np.float32), -5000, 5000).likeness == 0.0


def test_a_range_that_holds_nothing_finds_nothing():
    assert offset_of(sound(0.1), sound(0.1), 10**6, 2 * 10**6).likeness == 0.0
