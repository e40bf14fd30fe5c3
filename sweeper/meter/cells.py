"""Energies of 50 ms at a time, of every channel and of mid and side, and the sums of all samples; streaming.

What levels, stereo, crest of the loud passages, noise floor and DC are worked out from.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from sweeper.audio.format import AudioFormat
from sweeper.meter import compiled
from sweeper.meter.grid import Doubles, Samples, carve, nothing

CELLS_PER_S = 20
Frames = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Cells:
    """energies: one array a second, (rows, 20). totals: (channels,), sums of the samples of the whole seconds.

    rest: the samples since the last whole second.
    """

    format: AudioFormat
    energies: tuple[Doubles, ...]
    totals: Doubles
    rest: Samples


@dataclass(frozen=True)
class Energies:
    """A stream up to some frame.

    energies: (rows, cells), sums of squares, the last cell perhaps not whole. rows: the channels; with two of them
    left + right and left - right after them. totals: (channels,), sums of the samples. complete: how many cells are
    whole. edges: (complete + 1,), the frames where whole cells start and end.
    """

    format: AudioFormat
    frames: int
    energies: Doubles
    totals: Doubles
    complete: int
    edges: Frames

    @property
    def steps(self) -> Doubles:
        """The energies of 100 ms at a time, (rows, steps)."""
        summed: Doubles = self.energies.reshape(len(self.energies), -1, 2).sum(axis=2)
        return summed


def start(format: AudioFormat) -> Cells:
    """The state before the first sample."""
    return Cells(format, (), np.zeros(format.channels), nothing(format.channels))


def advance(state: Cells, block: Samples) -> Cells:
    """The state after `block`, (channels, frames). However a stream is cut, the result is the same bit for bit."""
    rate = state.format.rate_hz
    whole, rest = carve(state.rest, block, rate)
    energies, totals = [], state.totals
    for at in range(0, whole.shape[1], rate):
        found, sums = _second(state.format, whole[:, at : at + rate])
        energies.append(found)
        totals = totals + sums
    return replace(state, energies=(*state.energies, *energies), totals=totals, rest=rest)


def finish(state: Cells) -> Energies:
    """The energies of everything seen."""
    rate, left_over = state.format.rate_hz, state.rest.shape[1]
    last, sums = _second(state.format, np.pad(state.rest, ((0, 0), (0, rate - left_over))))
    frames = len(state.energies) * rate + left_over
    complete = (2 * CELLS_PER_S * frames + CELLS_PER_S - 1) // (2 * rate)
    return Energies(state.format, frames, np.concatenate((*state.energies, last), axis=1), state.totals + sums,
                    complete, edges(rate, complete))  # fmt: skip


@lru_cache(maxsize=16)
def edges(rate_hz: int, cells: int) -> Frames:
    """The frames where cells start and end: k * rate / 20, rounded, halves up; (cells + 1,)."""
    count = np.arange(cells + 1, dtype=np.int64)
    ends = (2 * count * rate_hz + CELLS_PER_S) // (2 * CELLS_PER_S)
    ends.setflags(write=False)
    return ends


def _second(format: AudioFormat, second: Samples) -> tuple[Doubles, Doubles]:
    """The energies of one second, (rows, 20), and the sums of its samples, (channels,)."""
    rows, borders = [compiled.row(channel) for channel in second], edges(format.rate_hz, CELLS_PER_S)
    sums, stereo = np.array([row.sum(dtype=np.float64) for row in rows]), len(rows) == 2
    loop = compiled.made(compiled.stereo_squares if stereo else compiled.squares, second.dtype)
    if loop is None:
        return _with_numpy(rows, borders[:-1]), sums
    energies = np.empty((4 if stereo else len(rows), CELLS_PER_S))
    if stereo:
        loop(*rows, borders, energies)
    else:
        for row, found in zip(rows, energies, strict=True):
            loop(row, borders, found)
    return energies, sums


def _with_numpy(rows: Sequence[Samples], firsts: Frames) -> Doubles:
    doubles = [row.astype(np.float64) for row in rows]
    if len(doubles) == 2:
        left, right = doubles
        doubles += [left + right, left - right]
    square = np.empty(doubles[0].size)
    return np.stack([np.add.reduceat(np.multiply(row, row, out=square), firsts) for row in doubles])
