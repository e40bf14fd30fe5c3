"""Levels in thirds of an octave: definitions, numpy, and the midbands that IEC 61260-1 prints."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from signals import cut, noise, programme, silence, sine

from sweeper.audio.format import AudioFormat
from sweeper.meter import bands

#: Nominal midbands of thirds of an octave, IEC 61260-1 (from memory), from 50 Hz to 16 kHz.
NOMINAL_HZ = (50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000, 2500, 3150, 4000,
              5000, 6300, 8000, 10000, 12500, 16000)  # fmt: skip


def measured(samples, rate_hz=48000, blocks=None):
    state = bands.start(AudioFormat(len(samples), rate_hz))
    for block in blocks if blocks is not None else [samples]:
        state = bands.advance(state, block)
    return bands.finish(state)


@pytest.mark.parametrize("rate_hz", [44100, 48000, 96000])
@pytest.mark.parametrize("band", range(len(NOMINAL_HZ)))
def test_a_sine_is_in_the_band_of_its_nominal_frequency(band, rate_hz):
    powers = measured(sine(-6.0, 0.5, rate_hz, NOMINAL_HZ[band]), rate_hz).powers
    mean = powers[1:-2].mean(axis=0)
    assert int(mean.argmax()) == band + 1
    # 0.25 of the peak's square in each of two channels, halved: a sine's mean square. Low bands let a little pass by.
    assert mean.sum() == pytest.approx(10 ** (-6.0 / 10), rel=0.03)


def test_noise_has_its_power_and_equal_power_in_equal_widths():
    powers = measured(noise(20.0, channels=1, level_dbfs=-20.0)).powers.mean(axis=0)
    widths = np.diff(bands.EDGES_HZ) / 24000.0
    # 20 s of noise know the power of a band 11 Hz wide within some 10 %
    assert powers / widths == pytest.approx(np.full(bands.BANDS, 0.01), rel=0.25)
    assert (powers / widths)[12:] == pytest.approx(np.full(bands.BANDS - 12, 0.01), rel=0.03)


def test_sound_begins_and_ends_at_the_sample():
    music = np.concatenate([silence(1.0), np.full((2, 1234), 0.1), silence(2.0)], axis=1)
    music[1, 500] = 10 ** (-71 / 20)
    assert measured(music).sound == (48000, 49234)
    music[1, 500] = -(10 ** (-69 / 20))
    assert measured(music).sound == (500, 49234)
    assert measured(silence(1.0)).sound is None


@pytest.mark.parametrize(("frames", "windows"), [(0, 0), (1, 1), (2400, 1), (2401, 2), (48000, 20)])
def test_every_twentieth_of_a_second_that_has_begun_has_a_window(frames, windows):
    assert measured(np.zeros((1, frames))).powers.shape == (windows, bands.BANDS)


def test_bands_over_half_the_rate_are_empty():
    powers = measured(noise(2.0, 8000), 8000).powers
    assert (powers[:, bands.EDGES_HZ[:-1] > 4000] == 0.0).all()
    assert (powers[:, bands.EDGES_HZ[1:] < 4000] > 0.0).all()


@settings(max_examples=40, deadline=None)
@given(sizes=st.lists(st.integers(1, 9000), min_size=1, max_size=5), frames=st.integers(1, 30000),
       rate_hz=st.sampled_from([11025, 44100, 48000]))  # fmt: skip
def test_chunking_never_changes_a_bit(sizes, frames, rate_hz):
    music = programme(0.7)[:, :frames].astype(np.float32)
    whole, pieces = measured(music, rate_hz), measured(music, rate_hz, cut(music, sizes))
    assert (whole.powers == pieces.powers).all()
    assert (whole.sound, whole.frames) == (pieces.sound, pieces.frames)
