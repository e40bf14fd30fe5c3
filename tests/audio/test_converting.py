"""Rate conversion by multitone: how even it is where music is, and what of the rest comes back as aliases."""

from __future__ import annotations

import numpy as np
import pytest

from sweeper.audio.converting import converted, converted_frames

WINDOW = 1 << 15


def convert(samples, rate_hz, wanted_hz, block=4096):
    parts = [samples[:, at : at + block] for at in range(0, samples.shape[1], block)]
    out = converted(parts, len(samples), rate_hz, wanted_hz, samples.shape[1])
    return np.concatenate(list(out), axis=1)


def tone(hz, rate_hz, seconds=2.0):
    return np.sin(2 * np.pi * hz / rate_hz * np.arange(round(seconds * rate_hz)))[None]


def level_db(samples):
    return 20 * np.log10(np.sqrt(2 * np.mean(np.square(samples))) + 1e-30)


@pytest.mark.parametrize(("rate_hz", "wanted_hz"), [(96000, 44100), (48000, 44100), (44100, 48000), (44100, 96000)])
def test_tones_of_the_band_keep_level_and_time(rate_hz, wanted_hz):
    """Our bounds; the converter's documentation promises 0.01 dB up to 0.91 of half the lower rate."""
    for hz in (20.0, 997.0, 10007.0, 16001.0, 19997.0):
        out = convert(tone(hz, rate_hz), rate_hz, wanted_hz)
        wanted = tone(hz, wanted_hz)
        middle = slice(wanted_hz // 2, -wanted_hz // 2)
        assert out.shape == wanted.shape
        assert level_db(out[:, middle]) == pytest.approx(0.0, abs=0.01), hz
        assert level_db((out - wanted)[:, middle]) < -60, hz


@pytest.mark.parametrize(("rate_hz", "wanted_hz"), [(96000, 44100), (48000, 44100)])
def test_what_the_lower_rate_cannot_hold_is_gone_and_leaves_no_alias(rate_hz, wanted_hz):
    for hz in np.linspace(wanted_hz / 2 + 150, rate_hz / 2 - 200, 9):
        out = convert(tone(hz, rate_hz), rate_hz, wanted_hz)
        assert level_db(out[:, wanted_hz // 2 : -wanted_hz // 2]) < -140, hz


def test_going_up_leaves_no_image():
    out = convert(tone(19997.0, 44100), 44100, 96000)[0, 48000 : 48000 + WINDOW]
    spectrum = np.abs(np.fft.rfft(out * np.blackman(WINDOW))) / (0.42 * WINDOW / 2)
    hz = np.arange(spectrum.size) * 96000 / WINDOW
    assert 20 * np.log10(spectrum[hz > 22000].max()) < -140


def test_how_a_stream_is_cut_changes_nothing():
    noise = np.random.default_rng(1).standard_normal((2, 30011))
    assert np.array_equal(convert(noise, 48000, 44100, 30011), convert(noise, 48000, 44100, 1000))


@pytest.mark.parametrize("frames", [1, 7, 480, 12345])
def test_as_many_frames_come_as_the_time_asks_for(frames):
    out = convert(np.ones((1, frames)), 48000, 44100)
    assert out.shape[1] == converted_frames(frames, 48000, 44100) == round(frames * 44100 / 48000)


def test_the_same_rate_gives_the_same_samples():
    noise = np.random.default_rng(1).standard_normal((2, 5000)).astype(np.float32)
    assert np.array_equal(convert(noise, 44100, 44100), noise)
