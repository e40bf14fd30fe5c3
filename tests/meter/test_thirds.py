"""Thirds of an octave of two files, against known filters and Parseval's sum."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import freqz, lfilter
from signals import cut, noise, sine

from sweeper.audio.format import AudioFormat
from sweeper.meter import thirds


def powers(samples, rate_hz=48000, blocks=None):
    state = thirds.start(AudioFormat(len(samples), rate_hz))
    for block in blocks or [samples]:
        state = thirds.advance(state, block)
    return thirds.finish(state)


def test_a_tone_is_in_its_band_with_its_power():
    found = powers(sine(-6.0, 4.0, hz=1000.0, channels=1))
    assert int(found.argmax()) == thirds.NOMINAL_HZ.index(1000)
    assert 10 * np.log10(found.max()) == pytest.approx(-9.01, abs=0.05)
    assert found.sum() - found.max() < 2e-5 * found.max()


def test_a_known_filter_is_read_off_at_the_midbands():
    white = noise(20.0)
    _, response = freqz([1, -0.8], [1, -0.5], worN=thirds.MIDBANDS_HZ, fs=48000)
    found = thirds.differences_db(powers(white), powers(lfilter([1, -0.8], [1, -0.5], white)), 0.0)
    assert found[12:28] == pytest.approx(20 * np.log10(np.abs(response))[12:28], abs=0.15)


def test_the_level_is_taken_out():
    white = noise(3.0)
    assert thirds.differences_db(powers(white), powers(white * 0.5), -6.0206) == pytest.approx([0.0] * 31, abs=1e-4)


def test_how_it_is_cut_changes_nothing():
    white = noise(5.0)
    assert np.array_equal(powers(white), powers(white, blocks=cut(white, (1, 70000, 999))))


def test_a_band_ends_at_half_the_rate_and_none_is_above_it():
    found = powers(noise(3.0, 16000), 16000)
    assert [hz for hz, power in zip(thirds.NOMINAL_HZ, found, strict=True) if not power] == [10000, 12500, 16000, 20000]
    assert thirds.differences_db(found, found, 0.0)[-4:] == (None,) * 4


def test_less_than_one_window_is_measured_too():
    assert 10 * np.log10(powers(sine(-6.0, 0.5, channels=1)).max()) == pytest.approx(-9.0, abs=3.0)
    assert powers(np.zeros((2, 0))).max() == 0.0
