"""The long-term spectrum in thirds of an octave, streaming."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy import fft

from sweeper.audio.format import AudioFormat
from sweeper.meter.grid import Doubles, Samples

#: Exact midbands of 20 Hz to 20 kHz: IEC 61260-1, base ten, from memory.
MIDBANDS_HZ = 1000.0 * 10.0 ** (np.arange(-17, 14) / 10.0)
#: What they are called.
NOMINAL_HZ: tuple[float, ...] = (
    20, 25, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000, 2500, 3150,
    4000, 5000, 6300, 8000, 10000, 12500, 16000, 20000,
)  # fmt: skip
EDGES_HZ = np.concatenate((MIDBANDS_HZ * 10.0**-0.05, MIDBANDS_HZ[-1:] * 10.0**0.05))

SILENT = 1e-14  # -140 dBFS in a band: nothing that a file holds on purpose


@dataclass(frozen=True)
class Thirds:
    """frames: seen so far. squares: (bins,), summed over windows and channels. rest: from the next window on."""

    format: AudioFormat
    frames: int
    squares: Doubles
    rest: Doubles


def start(format: AudioFormat) -> Thirds:
    """The state before the first sample."""
    hop = _hop(format)
    return Thirds(format, 0, np.zeros(hop + 1), np.zeros((format.channels, hop)))


def advance(state: Thirds, block: Samples) -> Thirds:
    """The state after `block`, (channels, frames). However a stream is cut, the result is the same bit for bit."""
    joined = np.concatenate((state.rest, block.astype(np.float64)), axis=1)
    return _windowed(replace(state, frames=state.frames + block.shape[1]), joined)


def finish(state: Thirds) -> Doubles:
    """Mean square in each band over everything seen, all channels together, (31,); zeros when there is nothing.

    A full-scale sine in every channel reads 0.5 in its band, as its RMS does: the bands, and what lies under 18 Hz
    and over 22 kHz, add up to the mean square of the whole. Bands above half the rate read 0.
    Source: definitions; bands by IEC 61260-1 (its midbands and edges, not its filters: a spectrum is cut there).
    """
    if not state.frames:
        return np.zeros(len(MIDBANDS_HZ))
    hop = _hop(state.format)
    missing = ((state.frames - 1) // hop + 3) * hop - (state.frames + hop)
    silence = np.zeros((state.format.channels, missing))
    squares = _windowed(state, np.concatenate((state.rest, silence), axis=1)).squares
    powers = band_sums(squares, edge_bins(EDGES_HZ, state.format.rate_hz, 2 * hop))
    return np.asarray(powers / (state.frames * state.format.channels), np.float64)


def differences_db(one: Doubles, other: Doubles, louder_db: float) -> tuple[float | None, ...]:
    """By how much each band of `other`, made `louder_db` quieter, is over that of `one`; None where one is empty."""
    return tuple(
        10 * math.log10(theirs / ours) - louder_db if ours > SILENT and theirs > SILENT else None
        for ours, theirs in zip(one.tolist(), other.tolist(), strict=True)
    )


def edge_bins(edges_hz: Doubles, rate_hz: int, size: int) -> Doubles:
    """Where edges lie among the bins of a spectrum of `size` frames.

    Each bin reaches half its width to either side of its frequency; edges over half the rate lie behind the last.
    """
    return np.asarray(np.minimum(edges_hz * size / rate_hz + 0.5, size // 2 + 1))


def band_sums(squares: Doubles, edges: Doubles) -> Doubles:
    """The sum of the bins in each band, (bins,) -> (edges - 1,); a bin that an edge cuts goes to both in shares."""
    sums = np.concatenate(([0.0], np.cumsum(squares)))
    return np.diff(np.interp(edges, np.arange(sums.size), sums))


def _hop(format: AudioFormat) -> int:
    """Half a second; a window is two of them, so that bins are 1 Hz apart."""
    return max(format.rate_hz // 2, 1)


def _windowed(state: Thirds, joined: Doubles) -> Thirds:
    """The state with every window added that lies in `joined` as a whole.

    The squares of overlapping sine windows add up to one: every frame counts once, those at both ends too.
    """
    hop = _hop(state.format)
    window = np.sin(np.pi * (np.arange(2 * hop) + 0.5) / (2 * hop))
    squares, at = state.squares, 0
    while at + 2 * hop <= joined.shape[1]:
        squares = squares + _squares(joined[:, at : at + 2 * hop] * window)
        at += hop
    return replace(state, squares=squares, rest=joined[:, at:].copy())


def _squares(windowed: Doubles) -> Doubles:
    """What each bin gives to the sum of the squared samples, (bins,), the channels added (Parseval)."""
    spectrum = fft.rfft(windowed, axis=1)
    squares = (np.square(spectrum.real) + np.square(spectrum.imag)).sum(axis=0) / windowed.shape[1]
    squares[1:-1] *= 2.0
    return np.asarray(squares, np.float64)
