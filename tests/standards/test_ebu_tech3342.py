"""EBU Tech 3342 v4 (Nov 2023), Table 1: loudness range, made in code. Cases 5 and 6 are authentic programmes."""

import numpy as np
import pytest
from delivery_rates import RATES
from signals import programme, sine, steps

from sweeper.audio.format import AudioFormat
from sweeper.meter import loudness


def loudness_range_lu(samples, rate_hz=48000):
    state = loudness.advance(loudness.start(AudioFormat(len(samples), rate_hz)), samples)
    return loudness.finish(state)["loudness_range_lu"].value


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize(
    ("case", "levels", "expected"),
    [(1, [-20, -30], 10.0), (2, [-20, -15], 5.0), (3, [-40, -20], 20.0), (4, [-50, -35, -20, -35, -50], 15.0)],
)
def test_steps_of_20_s(case, levels, expected, rate_hz):
    reading = loudness_range_lu(steps([(20.0, level) for level in levels], rate_hz), rate_hz)
    assert reading == pytest.approx(expected, abs=1.0), f"EBU Tech 3342 Table 1, case {case}"
    assert reading == pytest.approx(expected, abs=0.002)


def test_repeating_the_signal_changes_nothing():
    # Section 4
    music = programme(60.0, 8000)
    assert loudness_range_lu(np.tile(music, (1, 3)), 8000) == pytest.approx(loudness_range_lu(music, 8000), abs=0.15)


def test_a_steady_tone_has_no_range():
    # Follows from section 3.1
    assert loudness_range_lu(sine(-23.0, 60.0)) <= 0.01


def test_silence_is_appended_before_the_range_is_read():
    # Section 5, comment in the reference code: 1.5 s at least. Of 36 windows, the 15 last hold 0.1 to 1.5 s of
    # silence; the tenth percentile is the fifth quietest, with 1.1 s of it: 10 log10(3 / 1.9) = 1.984
    assert loudness_range_lu(sine(-23.0, 5.0)) == pytest.approx(1.984, abs=0.002)
