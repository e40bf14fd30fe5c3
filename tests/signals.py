"""Test signals made in code: tones of a peak level in dBFS, steps of level, bursts, noise. (channels, frames)."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from scipy import signal

Doubles = npt.NDArray[np.float64]


def frames_in(seconds: float, rate_hz: int) -> int:
    """The nearest whole number of frames."""
    return round(seconds * rate_hz)


def silence(seconds: float, rate_hz: int = 48000, channels: int = 2) -> Doubles:
    """Digital silence."""
    return np.zeros((channels, frames_in(seconds, rate_hz)))


def steps(levels: Sequence[tuple[float, float]], rate_hz: int = 48000, hz: float = 1000.0,
          channels: int = 2) -> Doubles:  # fmt: skip
    """A sine in phase on all channels, going on through (seconds, peak level dBFS) in turn; -inf is silence."""
    edges = np.cumsum([0.0] + [seconds for seconds, _ in levels])
    starts = [frames_in(edge, rate_hz) for edge in edges]
    tone = np.sin(2.0 * np.pi * hz / rate_hz * np.arange(starts[-1]))
    for (first, last), (_, level_dbfs) in zip(pairwise(starts), levels, strict=True):
        tone[first:last] *= 10.0 ** (level_dbfs / 20.0)
    return np.tile(tone, (channels, 1))


def sine(level_dbfs: float, seconds: float, rate_hz: int = 48000, hz: float = 1000.0,
         channels: int = 2) -> Doubles:  # fmt: skip
    """A sine of one peak level, in phase on all channels."""
    return steps([(seconds, level_dbfs)], rate_hz, hz, channels)


def surround(levels_dbfs: Sequence[float], seconds: float, rate_hz: int = 48000, hz: float = 1000.0) -> Doubles:
    """A sine with a peak level of its own on each channel; -inf is a silent channel."""
    gains = 10.0 ** (np.asarray(levels_dbfs) / 20.0)
    return gains[:, None] * sine(0.0, seconds, rate_hz, hz, channels=1)


def faded_sine(divisor: int, amplitude: float, phase_deg: float, rate_hz: int, seconds: float = 1.0) -> Doubles:
    """A stereo sine at rate / divisor with 10 ms fades, as EBU Tech 3341 cases 15 to 19 ask for."""
    count = frames_in(seconds, rate_hz)
    tone = amplitude * np.sin(2.0 * np.pi * np.arange(count) / divisor + np.radians(phase_deg))
    fade = np.linspace(0.0, 1.0, frames_in(0.01, rate_hz))
    tone[: fade.size] *= fade
    tone[-fade.size :] *= fade[::-1]
    return np.tile(tone, (2, 1))


def burst_between_samples(offset: int, periods: int = 100) -> Doubles:
    """A 0.5 sine at rate / 6 around one period of a 1.0 sine at rate / 4, as EBU Tech 3341 cases 20 to 23.

    Made at four times the rate, low-passed, and every fourth frame taken from `offset` on.
    """
    quiet = 0.5 * np.sin(2.0 * np.pi * np.arange(24 * periods) / 24)
    loud = np.sin(2.0 * np.pi * np.arange(16) / 16)
    low_pass = signal.firwin(257, 0.25, window=("kaiser", 8.0))
    dense = np.convolve(np.concatenate([quiet, loud, quiet]), low_pass, mode="same")
    return np.tile(dense[offset::4], (2, 1))


def noise(seconds: float, rate_hz: int = 48000, channels: int = 2, level_dbfs: float = -20.0,
          seed: int = 1) -> Doubles:  # fmt: skip
    """White noise of an RMS level, independent on each channel."""
    drawn = np.random.default_rng(seed).standard_normal((channels, frames_in(seconds, rate_hz)))
    return 10.0 ** (level_dbfs / 20.0) * drawn


def programme(seconds: float, rate_hz: int = 48000, channels: int = 2, seed: int = 1) -> Doubles:
    """Noise whose level wanders over 40 dB every 0.7 s, with partly shared channels: music for a meter."""
    random = np.random.default_rng(seed)
    count = frames_in(seconds, rate_hz)
    shared = random.standard_normal(count)
    own = random.standard_normal((channels, count))
    knots = np.arange(0.0, seconds + 1.4, 0.7)
    level_dbfs = np.interp(np.arange(count) / rate_hz, knots, random.uniform(-50.0, -10.0, knots.size))
    tilted = signal.lfilter([1.0], [1.0, -0.9], shared + 0.5 * own, axis=1) / 3.0
    return np.asarray(10.0 ** (level_dbfs / 20.0) * tilted)


def cut(samples: npt.NDArray[np.floating], sizes: Sequence[int]) -> list[npt.NDArray[np.floating]]:
    """The samples in blocks of the given sizes, over and over until all is used."""
    blocks, at, turn = [], 0, 0
    while at < samples.shape[1]:
        size = max(1, sizes[turn % len(sizes)])
        blocks.append(samples[:, at : at + size])
        at, turn = at + size, turn + 1
    return blocks
