"""Where the spectrum of a stream ends, and how steeply: coders and rate converters leave an edge that music has not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sweeper.audio.format import AudioFormat
from sweeper.meter.grid import Samples, carve, nothing

Doubles = NDArray[np.float64]
#: Of one window, about 85 ms. Every other one is looked at.
WINDOW_S = 4096 / 48000
#: Windows in classes of level, 10 dB each, from 0 dBFS down.
CLASSES, CLASS_DB = 12, 10.0
#: Those within so much of the loudest count: faint ones show the noise of the word length.
RANGE_CLASSES = 2
#: Edges are looked for from here on, up to where the filters of the file's own converter begin (20.7 kHz at 44.1 kHz);
#: levels are compared over SPAN_HZ, GAP_HZ from the edge.
LOWEST_HZ, HIGHEST_SHARE = 9000.0, 0.94
SPAN_HZ, GAP_HZ = 500.0, 150.0
TINY = 1e-20


@dataclass(frozen=True)
class BandEdges:
    """sums: of the levels in dB of every bin, a row a class of level; counts: windows in each."""

    format: AudioFormat
    size: int
    sums: Doubles
    counts: NDArray[np.int64]
    pending: Samples


@dataclass(frozen=True)
class BandEdge:
    """edge_hz: where the level falls most. drop_db: by how much, beyond its slope before. above_dbfs: what is left."""

    edge_hz: float
    drop_db: float
    above_dbfs: float


def start(format: AudioFormat) -> BandEdges:
    """The state before the first sample."""
    size = 1 << round(np.log2(WINDOW_S * format.rate_hz))
    return BandEdges(
        format, size, np.zeros((CLASSES, size // 2 + 1)), np.zeros(CLASSES, np.int64), nothing(format.channels)
    )


def advance(state: BandEdges, block: Samples) -> BandEdges:
    """The state after `block`, (channels, frames)."""
    steps, pending = carve(state.pending, block, 2 * state.size)
    sums, counts = state.sums, state.counts
    if steps.shape[1]:
        sums, counts = sums.copy(), counts.copy()
        window = _window(state.size)
        for at in range(0, steps.shape[1], 2 * state.size):
            _take(steps[:, at : at + state.size], window, sums, counts)
    return BandEdges(state.format, state.size, sums, counts, pending)


def _take(part: Samples, window: Doubles, sums: Doubles, counts: NDArray[np.int64]) -> None:
    power = float(np.mean(np.square(part, dtype=np.float64)))
    row = int(min(CLASSES - 1, max(0.0, -10 * np.log10(power + TINY) // CLASS_DB)))
    if power <= TINY:
        return
    spectra = np.abs(np.fft.rfft(part * window, axis=1)) ** 2
    sums[row] += 10 * np.log10(spectra.mean(axis=0) + TINY)
    counts[row] += 1


def _window(size: int) -> Doubles:
    """Blackman-Harris, four terms, -92 dB: what leaks over an edge is no more. A full-scale sine reads 0 dBFS.

    Source: F. J. Harris, "On the Use of Windows for Harmonic Analysis with the Discrete Fourier Transform", Proc. IEEE
    66(1), 1978 (coefficients from memory).
    """
    turn = 2 * np.pi * np.arange(size) / size
    window = 0.35875 - 0.48829 * np.cos(turn) + 0.14128 * np.cos(2 * turn) - 0.01168 * np.cos(3 * turn)
    return np.asarray(window / (window.sum() / 2))


def spectrum_db(state: BandEdges) -> Doubles | None:
    """The mean level in dB of each bin over the loud windows; None where there are none."""
    heard = np.flatnonzero(state.counts)
    if not heard.size:
        return None
    rows = slice(heard[0], heard[0] + RANGE_CLASSES + 1)
    return np.asarray(state.sums[rows].sum(axis=0) / state.counts[rows].sum())


def finish(state: BandEdges) -> BandEdge | None:
    """The steepest edge; None for silence, what is shorter than a window, and rates under 20 kHz.

    White noise low-passed at 16 kHz to nothing reads some 60 dB and more at 16 kHz; music falls by less than 15 dB
    anywhere there. Our own definition; figures in DEVELOPERS.md, decisions.
    """
    levels = spectrum_db(state)
    bin_hz = state.format.rate_hz / state.size
    if levels is None or state.format.rate_hz / 2 < LOWEST_HZ + 2 * SPAN_HZ:
        return None
    span, gap = max(2, round(SPAN_HZ / bin_hz)), max(1, round(GAP_HZ / bin_hz))
    sums = np.concatenate(([0.0], np.cumsum(levels)))
    at = np.arange(
        round(LOWEST_HZ / bin_hz), min(round(HIGHEST_SHARE * (levels.size - 1)), levels.size - gap - span // 2)
    )
    top = np.minimum(at + gap + span, levels.size)
    below = (sums[at - gap] - sums[at - gap - span]) / span
    before = (sums[at - gap - 2 * span] - sums[at - gap - 3 * span]) / span
    above = (sums[top] - sums[at + gap]) / (top - at - gap)
    slope = np.maximum(0.0, before - below) / 2
    drops = below - above - slope * (span + 2 * gap) / span
    best = int(np.argmax(drops))
    return BandEdge(float(at[best] * bin_hz), float(drops[best]), float(above[best]))
