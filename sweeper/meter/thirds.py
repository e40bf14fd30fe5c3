"""The long-term spectrum in thirds of an octave, streaming.

Stretches of a fixed number of frames overlap by a quarter, faded so that the squares of the fades add up to one: what
the bands and the rest hold together is the energy of the stream, nothing twice and nothing left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import numpy.typing as npt

from sweeper.audio.format import AudioFormat
from sweeper.meter.grid import Doubles, Samples, frames_of, kept

#: Exact midbands of 20 Hz to 20 kHz: IEC 61260-1, base ten, from memory.
MIDBANDS_HZ = 1000.0 * 10.0 ** (np.arange(-17, 14) / 10.0)
#: What they are called.
NOMINAL_HZ: tuple[float, ...] = (
    20, 25, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000, 2500, 3150,
    4000, 5000, 6300, 8000, 10000, 12500, 16000, 20000,
)  # fmt: skip
EDGES_HZ = np.concatenate((MIDBANDS_HZ * 10.0**-0.05, MIDBANDS_HZ[-1:] * 10.0**0.05))

LONGEST_S = 0.8  # a stretch is the highest power of two under it: bins are 1.25 to 2.5 Hz apart
Singles = npt.NDArray[np.float32]
SILENT = 1e-14  # -140 dBFS in a band: nothing that a file holds on purpose


@dataclass(frozen=True)
class Thirds:
    """frames: seen so far. squares: (bins,), summed over stretches and channels. tail: from the next stretch on.

    Silence comes before the stream.
    """

    format: AudioFormat
    frames: int
    squares: Doubles
    tail: tuple[Samples, ...]


def start(format: AudioFormat) -> Thirds:
    """The state before the first sample."""
    size = _size(format.rate_hz)
    _have_memory_kept(16 * format.channels * size)
    return Thirds(format, 0, np.zeros(size // 2 + 1), (np.zeros((format.channels, size // 4), np.float32),))


def advance(state: Thirds, block: Samples) -> Thirds:
    """The state after `block`, (channels, frames). However a stream is cut, the result is the same bit for bit."""
    size, tail = _size(state.format.rate_hz), kept(state.tail, block)
    frames, squares, step = state.frames + block.shape[1], state.squares, size - size // 4
    if frames_of(tail) < size + step:
        return replace(state, frames=frames, tail=tail)
    joined, at = np.concatenate(tail, axis=1, dtype=np.float32), 0
    while joined.shape[1] - at >= size + step:  # two stretches a time: transforms of four rows go twice as fast
        squares = squares + _squares(joined[:, at : at + size + step], size)
        at += 2 * step
    return replace(state, frames=frames, squares=squares, tail=(joined[:, at:].copy(),))


def finish(state: Thirds) -> Doubles:
    """Mean square in each band over everything seen, all channels together, (31,); zeros when there is nothing.

    A full-scale sine in every channel reads 0.5 in its band, as its RMS does: the bands, and what lies under 18 Hz
    and over 22 kHz, add up to the mean square of the whole. Bands above half the rate read 0. White noise rises by
    1 dB a band, pink noise is flat. A tone leaks into the bands beside its own, 24 dB lower at 50 Hz, less above.
    Source: definitions; bands by IEC 61260-1 (its midbands and edges, not its filters: a spectrum is cut there).
    """
    if not state.frames:
        return np.zeros(len(MIDBANDS_HZ))
    size = _size(state.format.rate_hz)
    squares = advance(state, np.zeros((state.format.channels, 3 * size), np.float32)).squares
    powers = band_sums(squares, edge_bins(EDGES_HZ, state.format.rate_hz, size))
    return np.asarray(powers / (state.frames * state.format.channels), np.float64)


def levels_dbfs(powers: Doubles) -> tuple[float | None, ...]:
    """RMS of each band, to a hundredth; None where it is empty or beyond what can be measured."""
    return tuple(round(10 * math.log10(power), 2) if SILENT < power < math.inf else None for power in powers.tolist())


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


def _size(rate_hz: int) -> int:
    """How long a stretch is, in frames."""
    return int(1 << int(math.log2(LONGEST_S * rate_hz)))


@cache
def _have_memory_kept(floats: int) -> None:
    """Let the memory of one transform be kept for the next.

    Until the C library of Linux has seen an array of some size freed, it hands back what is larger than 128 kB, and
    gets it again page by page for the next transform, which takes as long as the transforms themselves.
    """
    np.empty(floats, np.float32)


@cache
def _fade(size: int) -> Singles:
    """Up over a quarter, down over a quarter; where stretches overlap, the squares of both add up to one."""
    fade = np.ones(size, np.float32)
    up = np.sin(np.pi / 2.0 * (np.arange(size // 4) + 0.5) / (size // 4))
    fade[: up.size], fade[-up.size :] = up, up[::-1]
    return fade


def _squares(samples: Singles, size: int) -> Doubles:
    """What each bin of two stretches gives to the sum of the squared samples, (bins,), channels added (Parseval)."""
    from scipy import fft  # takes a while to load, and nothing needs it before the first stretch

    faded = np.empty((2, len(samples), size), np.float32)
    np.multiply(samples[:, :size], _fade(size), out=faded[0])
    np.multiply(samples[:, -size:], _fade(size), out=faded[1])
    parts = fft.rfft(faded.reshape(-1, size), axis=1).view(np.float32)
    doubled = np.einsum("cf,cf->f", parts, parts)
    squares: Doubles = (doubled[::2] + doubled[1::2]).astype(np.float64) * (2.0 / size)
    squares[[0, -1]] /= 2.0
    return squares
