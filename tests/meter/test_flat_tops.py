"""Clipped runs: counted on clipped sines, where there is one a half wave, and none where nothing is clipped."""

import numpy as np
import pytest

from sweeper.audio.format import AudioFormat
from sweeper.meter import flat_tops

RATE_HZ = 48000


def found(samples, block=7001):
    samples = np.atleast_2d(samples).astype(np.float32)
    state = flat_tops.start(AudioFormat(len(samples), RATE_HZ))
    for at in range(0, samples.shape[1], block):
        state = flat_tops.advance(state, samples[:, at : at + block])
    return flat_tops.finish(state)


def sine(hz, level=1.0, seconds=2.0):
    return level * np.sin(2 * np.pi * hz / RATE_HZ * np.arange(round(seconds * RATE_HZ)))


@pytest.mark.parametrize("ceiling", [1.0, 10 ** (-0.1 / 20), 0.5])
def test_a_clipped_sine_has_one_run_a_half_wave_wherever_the_clipper_stands(ceiling):
    clipped = found(np.clip(sine(100, 1.5), -ceiling, ceiling))
    assert clipped.runs == 400
    assert clipped.level == pytest.approx(ceiling)
    # above 1/A of its amplitude a sine stays for 1 - 2/pi asin(1/A) of the time: here 240 samples a half wave
    assert clipped.longest_frames == pytest.approx(240 * (1 - 2 / np.pi * np.arcsin(ceiling / 1.5)), abs=1.5)


@pytest.mark.parametrize("hz", [20, 30, 50, 100, 997])
@pytest.mark.parametrize("bits", [16, 24])
def test_a_sine_that_is_not_clipped_has_none_however_slow(hz, bits):
    assert found(np.round(sine(hz) * (2 ** (bits - 1) - 1)) / 2 ** (bits - 1)).runs == 0


def test_dither_behind_the_clipper_hides_few():
    rng = np.random.default_rng(1)
    clipped = np.clip(sine(100, 1.5), -0.98, 0.98)
    dithered = np.round(clipped * 32768 + rng.uniform(-0.5, 0.5, clipped.size) + rng.uniform(-0.5, 0.5, clipped.size))
    assert found(dithered / 32768).runs > 250


def test_how_the_stream_is_cut_changes_nothing():
    samples = np.stack([np.clip(sine(40, 3.0), -0.9, 0.7), sine(50, 0.8)])
    whole = found(samples, 10**6)
    assert whole.runs == 160
    assert found(samples, 977) == found(samples, 32768) == whole


def test_a_higher_peak_later_makes_the_earlier_tops_no_tops():
    quiet, loud = np.clip(sine(100), -0.5, 0.5), np.zeros(100)
    loud[50] = 0.9
    assert found(np.concatenate((np.clip(quiet, -0.4, 1), loud))).runs == 200  # those below zero are left
    assert found(np.zeros(1000)).runs == found(np.zeros(0)).runs == 0
