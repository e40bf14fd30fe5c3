"""Delays found against delays made: by hand, and by filters whose delay is known."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import butter, fftconvolve, firwin, lfilter

from sweeper.meter.lateness import lateness

RATE_HZ = 44100


def noise(frames: int = 65536, channels: int = 2, seed: int = 0) -> np.ndarray:
    return (np.random.default_rng(seed).standard_normal((channels, frames)) * 0.1).astype(np.float32)


def later(sound: np.ndarray, frames: int) -> np.ndarray:
    return np.roll(sound, frames, axis=1) * (np.arange(sound.shape[1]) >= frames if frames > 0 else 1)


@pytest.mark.parametrize("frames", [0, 1, -59, 441, 16384, -16384])
@pytest.mark.parametrize("factor", [1.0, -0.01])
def test_a_delay_is_found_to_the_frame_with_its_polarity(frames, factor):
    found = lateness(noise(), factor * later(noise(), frames), 22050)
    assert found.frames == pytest.approx(frames, abs=0.02)
    assert found.inverted == (factor < 0)


def test_a_delay_of_half_a_frame_is_told_as_such():
    """The mean of two neighbours: a delay of exactly half a frame (definition)."""
    sound = noise()
    found = lateness(sound, (sound + later(sound, 1)) / 2, 100)
    assert found.frames == pytest.approx(0.5, abs=0.05)


def test_a_linear_phase_filter_is_late_by_half_its_length():
    """(taps - 1) / 2: Oppenheim and Schafer, Discrete-Time Signal Processing, FIR of type I (from memory)."""
    filtered = fftconvolve(noise(), firwin(1025, 8000, fs=RATE_HZ)[None], axes=1)[:, :65536]
    assert lateness(noise(), filtered, 22050).frames == pytest.approx(512, abs=0.1)


def processed(kind: str) -> np.ndarray:
    sound = noise().astype(np.float64)
    if kind == "saturated":
        return np.tanh(30 * sound)
    if kind == "clipped":
        return np.clip(20 * sound, -0.3, 0.3)
    if kind == "boosted at 60 Hz":  # a resonance of +20 dB, poles and zeros by hand
        return lfilter([1, -1.9990, 0.99908], [1, -1.9998, 0.99988], sound, axis=1)
    if kind == "dark":  # what is loud of it comes 30 frames later than the rest
        return 0.01 * sound + lfilter(*butter(2, 300, fs=RATE_HZ), sound, axis=1)
    if kind == "half dry with an echo":
        return sound + later(sound, 11025)
    return sound * (1 + 0.9 * np.sin(2 * np.pi * 5 * np.arange(65536) / RATE_HZ))  # a compressor that pumps


@pytest.mark.parametrize("kind", ["saturated", "clipped", "boosted at 60 Hz", "dark",
                                  "half dry with an echo", "pumping"])
def test_what_processors_do_is_no_delay_and_hides_none(kind):
    for frames in (0, 377):
        found = lateness(noise(), later(processed(kind), frames), 22050)
        assert found.frames == pytest.approx(frames, abs=0.3)


def test_a_low_pass_does_not_turn_the_polarity_over():
    """A Butterworth filter of second order turns the phase by half a circle at last, where nothing is left to hear."""
    found = lateness(noise(), lfilter(*butter(2, 2000, fs=RATE_HZ), noise(), axis=1), 22050)
    assert (found.frames, found.inverted) == (pytest.approx(0.0, abs=0.3), False)


def test_what_has_no_one_delay_is_not_told():
    room = noise(44100, seed=5) * np.exp(-np.arange(44100) / 6000)
    assert lateness(noise(), fftconvolve(noise(), room, axes=1)[:, :65536], 22050) is None
    assert lateness(noise(), noise(seed=9), 22050) is None, "noise of its own"
    assert lateness(noise(), 0 * noise(), 22050) is None
