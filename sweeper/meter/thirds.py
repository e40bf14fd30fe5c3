"""Mean power in thirds of an octave of two files that are held against each other; streaming. Used by `compare` alone.

Source: definitions; midbands and edges by IEC 61260-1, base ten, from memory. A spectrum is cut there, no filters run.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy import fft

from sweeper.audio.format import AudioFormat
from sweeper.meter.grid import Doubles, Samples, nothing

#: 20 Hz to 20 kHz: exact midbands, and what they are called.
MIDBANDS_HZ = 10.0 ** (np.arange(13, 44) / 10.0)
NOMINAL_HZ: tuple[float, ...] = (
    20, 25, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000, 2500, 3150,
    4000, 5000, 6300, 8000, 10000, 12500, 16000, 20000,
)  # fmt: skip
EDGES_HZ = 10.0 ** (np.arange(13, 45) / 10.0 - 0.05)
LEAST_WINDOW_S = 0.6  # so that the lowest band holds some lines of its own
SILENT = 1e-14  # -140 dBFS in a band: nothing that a file holds on purpose


@dataclass(frozen=True)
class Thirds:
    """sums: (31,), of the windows so far. rest: the samples from the first frame of the next window on."""

    format: AudioFormat
    windows: int
    sums: Doubles
    rest: Samples


def start(format: AudioFormat) -> Thirds:
    """The state before the first sample."""
    return Thirds(format, 0, np.zeros(len(MIDBANDS_HZ)), nothing(format.channels))


def advance(state: Thirds, block: Samples) -> Thirds:
    """The state after `block`, (channels, frames)."""
    size = window_frames(state.format.rate_hz)
    joined = np.concatenate((state.rest, block), axis=1)
    sums, at = state.sums, 0
    while at + size <= joined.shape[1]:
        sums = sums + _powers(joined[:, at : at + size], state.format.rate_hz)
        at += size // 2
    return replace(state, windows=state.windows + at // (size // 2), sums=sums, rest=joined[:, at:].copy())


def finish(state: Thirds) -> Doubles:
    """(31,): mean squares of all channels together in each band, the last window filled up with silence.

    A band that half the rate cuts into ends there; those above it read 0.
    """
    size = window_frames(state.format.rate_hz)
    if not state.windows or state.rest.shape[1] > size // 2:
        state = advance(state, np.zeros((state.format.channels, size - state.rest.shape[1]), np.float32))
    return np.where(EDGES_HZ[:-1] < state.format.rate_hz / 2, state.sums / max(1, state.windows), 0.0)


def differences_db(one: Doubles, other: Doubles, louder_db: float) -> tuple[float | None, ...]:
    """By how much each band of `other`, made `louder_db` quieter, is over that of `one`; None where one is empty."""
    return tuple(
        10 * math.log10(theirs / ours) - louder_db if ours > SILENT and theirs > SILENT else None
        for ours, theirs in zip(one.tolist(), other.tolist(), strict=True)
    )


def window_frames(rate_hz: int) -> int:
    """Frames in a window: a power of two."""
    return 1 << math.ceil(math.log2(LEAST_WINDOW_S * rate_hz))


def _powers(samples: Samples, rate_hz: int) -> Doubles:
    size = samples.shape[1]
    hann = 0.5 - 0.5 * np.cos(2.0 * np.pi * (np.arange(size) + 0.5) / size)
    spectrum = fft.rfft(samples.astype(np.float64) * hann, axis=1)
    squares = (np.square(spectrum.real) + np.square(spectrum.imag)).sum(axis=0) * 2.0 / size / np.square(hann).sum()
    sums = np.concatenate(([0.0], np.cumsum(squares)))
    edges = np.minimum(EDGES_HZ * size / rate_hz + 0.5, size // 2 + 1)
    powers: Doubles = np.diff(np.interp(edges, np.arange(sums.size), sums))
    return powers
