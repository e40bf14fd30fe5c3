"""Where a sound swings past its samples, tenth by tenth."""

from __future__ import annotations

import math

import numpy as np
import pytest
from signals import noise

from sweeper.audio import AudioFormat
from sweeper.meter import overshoots
from sweeper.meter.panel import measure


def found_in(sound, rate_hz=48000, cut=7001):
    state = overshoots.start(AudioFormat(len(sound), rate_hz))
    for at in range(0, sound.shape[1], cut):
        state = overshoots.advance(state, sound[:, at : at + cut])
    return overshoots.finish(state)


def tone(share, phase_deg, seconds=0.5, rate_hz=48000):
    return 0.5 * np.sin(2 * np.pi * share * np.arange(round(seconds * rate_hz)) + math.radians(phase_deg))[None]


@pytest.mark.parametrize(("divisor", "phase_deg"), [(6, 60.0), (8, 67.5), (12, 75.0)])
def test_half_way_between_the_samples_of_a_tone_lies_its_true_peak(divisor, phase_deg):
    """ITU-R BS.1770-5 Annex 2: tones whose samples miss their peak by as much as they can."""
    sound = tone(1 / divisor, phase_deg)
    found = found_in(sound)
    assert found.samples[1] < 0.5 * 0.985
    assert found.between[1] == pytest.approx(0.5, rel=0.01)


def test_noise_swings_as_far_as_its_true_peak_says_or_a_little_less():
    sound = noise(2.0)
    true = 10 ** (measure(sound, AudioFormat(2, 48000))["true_peak_dbtp"] / 20)
    found = found_in(sound)
    assert 0.93 * true < max(found.between.max(), found.samples.max()) <= 1.01 * true


def test_how_the_stream_is_cut_changes_nothing():
    sound = noise(0.73)
    for cut in (1000, 4800, 100000):
        one, other = found_in(sound, cut=cut), found_in(sound)
        assert (one.samples == other.samples).all()
        assert one.between == pytest.approx(other.between, abs=1e-12)
    assert found_in(sound).samples.size == 7
