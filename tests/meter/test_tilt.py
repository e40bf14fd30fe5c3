"""The slope through the thirds of an octave: noise of known slope, and why there is none."""

import numpy as np
import pytest
from scipy import fft
from signals import noise, programme, silence

from sweeper.audio.format import AudioFormat
from sweeper.meter import thirds, tilt


def bands(samples, rate_hz=48000):
    return thirds.advance(thirds.start(AudioFormat(len(samples), rate_hz)), samples)


def found(samples, rate_hz=48000):
    return tilt.finish(bands(samples, rate_hz))["tilt_db"]


def sloped_noise(db_per_octave, seconds=20.0, rate_hz=48000):
    """Noise whose power density follows a straight line; made exactly, line by line, with drawn phases."""
    count = round(seconds * rate_hz)
    lines_hz = np.arange(count // 2 + 1) * rate_hz / count
    heights = np.zeros(lines_hz.size)
    heights[1:] = lines_hz[1:] ** (db_per_octave / (20 * np.log10(2)))
    phases = np.random.default_rng(4).uniform(0, 2 * np.pi, (2, heights.size))
    drawn = fft.irfft(heights * np.exp(1j * phases), axis=1)
    return 0.1 * drawn / drawn.std()


@pytest.mark.parametrize(("db_per_octave", "a_band"), [(0.0, 1.0), (-10 * np.log10(2), 0.0), (-20 * np.log10(2), -1.0)])
def test_white_rises_by_1_db_a_band_and_pink_is_flat(db_per_octave, a_band):
    # The band's width grows by 10^(1/10) a band: exactly 1 dB; pink falls by as much
    levels = 10 * np.log10(thirds.finish(bands(sloped_noise(db_per_octave))))
    steps = np.polyfit(np.arange(levels.size), levels, 1)[0]
    assert steps == pytest.approx(a_band, abs=0.01)
    assert np.diff(levels)[5:] == pytest.approx(a_band, abs=0.1)
    assert found(sloped_noise(db_per_octave)).value == pytest.approx(a_band, abs=0.01)


@pytest.mark.parametrize(
    ("samples", "rate_hz", "why"),
    [(np.zeros((2, 0)), 48000, "no samples"), (silence(2.0), 48000, "digital silence"),
     (noise(2.0, 22050), 22050, "its bands go up to 11220 Hz, over half the rate")],
)  # fmt: skip
def test_what_has_no_slope_says_why(samples, rate_hz, why):
    slope = found(samples, rate_hz)
    assert (slope.value, slope.reason) == (None, why)


def test_a_band_without_anything_has_no_slope_and_what_is_beyond_numbers_neither():
    state = bands(programme(2.0))
    holes = np.where(np.arange(state.squares.size) * 48000 / 65536 * 2 < 100, 0.0, 1.0)
    empty = tilt.finish(thirds.Thirds(state.format, state.frames, holes, (np.zeros((2, 16384)),)))["tilt_db"]
    assert (empty.value, empty.reason) == (None, "nothing in the band of 50 Hz")
    with np.errstate(all="ignore"):
        assert found(1e30 * programme(2.0)).reason == "beyond what can be measured"
