"""Dither and word length, against textbook powers (CHECKS: Delta^2/4 for TPDF and rounding together)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import signal

from sweeper.audio import Word
from sweeper.delivery import shaping
from sweeper.delivery.dither import Dither, Quantiser

SECONDS, RATE_HZ = 4, 44100


def rms_dbfs(samples):
    return 10 * math.log10(float(np.mean(np.square(samples))))


def printed(samples, dither, word=Word.PCM_16, seed=1, blocks=1):
    quantiser = Quantiser(word, dither, len(samples), seed)
    parts = [quantiser.words(part) for part in np.array_split(samples, blocks, axis=1)]
    return np.concatenate(parts, axis=1) / word.words_to_full_scale, quantiser


@pytest.mark.parametrize(
    ("word", "expected_dbfs", "source"),
    [
        (Word.PCM_16, -96.330, "Lipshitz, Wannamaker, Vanderkooy 1992: total power of TPDF and rounding is Delta^2/4"),
        (Word.PCM_24, -144.494, "the same, Delta = 2^-23"),
    ],
)
def test_tpdf_leaves_a_quarter_of_a_step_squared_in_silence(word, expected_dbfs, source):
    silence = np.zeros((2, SECONDS * RATE_HZ))
    assert rms_dbfs(printed(silence, Dither.TPDF, word)[0]) == pytest.approx(expected_dbfs, abs=0.03), source


@pytest.mark.parametrize("level_dbfs", [-100.0, -80.0, -20.0])
def test_tpdf_makes_the_error_as_large_whatever_the_signal_is(level_dbfs):
    tone = 10 ** (level_dbfs / 20) * np.sin(2 * np.pi * 997 / RATE_HZ * np.arange(SECONDS * RATE_HZ))[None]
    assert rms_dbfs(printed(tone, Dither.TPDF)[0] - tone) == pytest.approx(-96.330, abs=0.05)


@pytest.mark.parametrize("dither", [Dither.TPDF, Dither.SHAPED])
def test_a_tone_below_one_step_comes_through_at_its_level_and_without_harmonics(dither):
    """-100 dBFS is under half a step of 16 bits: without dither it is silence."""
    frames = np.arange(20 * RATE_HZ)
    tone = 10 ** (-100 / 20) * np.sin(2 * np.pi * 1000 / RATE_HZ * frames)[None]
    out = printed(tone, dither)[0][0]
    spectrum = 2 * np.abs(np.fft.rfft(out * np.hanning(out.size))) / (out.size / 2)
    levels_db = 20 * np.log10(spectrum[[20 * 1000, 20 * 2000, 20 * 3000]])
    assert levels_db[0] == pytest.approx(-100.0, abs=0.5)
    assert max(levels_db[1:]) < -120
    assert not printed(tone, Dither.NONE)[0].any()


def test_without_dither_words_on_the_grid_stay_as_they_are():
    words = np.random.default_rng(3).integers(-32768, 32768, (2, 5000)) / 32768
    assert np.array_equal(printed(words, Dither.NONE)[0], words)


def test_shaped_noise_has_the_spectrum_of_its_filter():
    out = printed(np.zeros((1, 30 * RATE_HZ)), Dither.SHAPED)[0][0]
    frequencies, density = signal.welch(out, RATE_HZ, nperseg=2048)
    white = 10 * math.log10(2 * 10 ** (-96.330 / 10) / RATE_HZ)
    some = np.array([500.0, 2000.0, 4000.0, 8000.0, 12000.0, 18000.0])
    measured = [10 * math.log10(density[np.argmin(np.abs(frequencies - each))]) - white for each in some]
    assert measured == pytest.approx(list(shaping.transfer_db(some, RATE_HZ)), abs=1.0)


def test_shaped_noise_is_lower_than_white_where_the_ear_is_keen():
    """Lipshitz, Vanderkooy, Wannamaker 1991: the ear is keenest about 4 kHz, and again about 12 kHz."""
    assert shaping.transfer_db(np.array([3000.0, 4000.0, 12000.0]), RATE_HZ).max() < -6
    assert shaping.transfer_db(np.array([20000.0]), RATE_HZ)[0] > 15


def test_a_filter_of_error_feedback_adds_as_much_as_it_takes_away_on_the_log_scale():
    """Gerzon and Craven, "Optimal Noise Shaping and Dither of Digital Signals", AES 87th Convention, 1989."""
    frequencies = np.linspace(0, RATE_HZ / 2, 20001)
    assert np.mean(shaping.transfer_db(frequencies, RATE_HZ)) == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize("dither", list(Dither))
def test_the_same_seed_gives_the_same_words_however_the_stream_is_cut(dither):
    music = np.random.default_rng(5).standard_normal((2, 30000)) * 0.1
    whole = printed(music, dither)[0]
    assert np.array_equal(printed(music, dither, blocks=7)[0], whole)
    if dither is not Dither.NONE:
        assert not np.array_equal(printed(music, dither, seed=2)[0], whole)
        assert not np.array_equal(whole[0] - music[0], whole[1] - music[1])


def test_python_and_machine_code_shape_to_the_same_words():
    rng = np.random.default_rng(7)
    row, noise = rng.standard_normal(4000) * 20000, rng.uniform(-1, 1, 4000)
    plain, errors = np.empty(4000), np.zeros(5)
    shaping._feed_back(row, noise, np.array(shaping.COEFFICIENTS), errors, 32768.0, plain)
    assert np.array_equal(shaping.Feedback().shaped(row, noise, np.zeros(5), 32768), plain)


@pytest.mark.parametrize("dither", list(Dither))
def test_what_no_word_can_hold_is_clipped_and_counted(dither):
    loud = np.full((1, 1000), 1.5)
    loud[0, 500:] = 0.25
    out, quantiser = printed(loud, dither)
    assert quantiser.clipped == 500
    assert out[0, :500].min() == pytest.approx(32767 / 32768, abs=1e-9)
    assert np.abs(out[0, 520:] - 0.25).max() < 20 / 32768
