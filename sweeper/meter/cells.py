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
    """tables: (rows, 20 or more) each but the last, a cell a column: its energies, and the sums of its samples.

    rest: the samples since.
    """

    format: AudioFormat
    frames: int
    tables: tuple[Doubles, ...]
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
    return Cells(format, 0, (np.zeros((_rows(format) + format.channels, 0)),), nothing(format.channels))


def advance(state: Cells, block: Samples) -> Cells:
    """The state after `block`, (channels, frames). However a stream is cut, the result is the same bit for bit."""
    rate, tables = state.format.rate_hz, state.tables
    whole, rest = carve(state.rest, block, rate if rate % CELLS_PER_S else rate // CELLS_PER_S)
    if whole.shape[1]:
        table = _table(state.format, whole)
        small = tables[-1].shape[1] < CELLS_PER_S
        tables = (*tables[:-1], np.concatenate((tables[-1], table), axis=1)) if small else (*tables, table)
    return replace(state, frames=state.frames + block.shape[1], tables=tables, rest=rest)


def finish(state: Cells) -> Energies:
    """The energies of everything seen."""
    rate, frames = state.format.rate_hz, state.frames
    last = _table(state.format, np.pad(state.rest, ((0, 0), (0, -frames % rate))))
    table, rows = np.concatenate((*state.tables, last), axis=1), _rows(state.format)
    complete = (2 * CELLS_PER_S * frames + CELLS_PER_S - 1) // (2 * rate)
    return Energies(state.format, frames, table[:rows], table[rows:].sum(axis=1), complete,
                    edges(rate, complete))  # fmt: skip


@lru_cache(maxsize=16)
def edges(rate_hz: int, cells: int) -> Frames:
    """The frames where cells start and end: k * rate / 20, rounded, halves up; (cells + 1,)."""
    count = np.arange(cells + 1, dtype=np.int64)
    ends = (2 * count * rate_hz + CELLS_PER_S) // (2 * CELLS_PER_S)
    ends.setflags(write=False)
    return ends


def _rows(format: AudioFormat) -> int:
    """How many energies there are."""
    return 4 if format.channels == 2 else format.channels


def _table(format: AudioFormat, samples: Samples) -> Doubles:
    """Energies and sums of the cells in samples that start with one and end with one, (rows + channels, cells)."""
    cells = samples.shape[1] * CELLS_PER_S // format.rate_hz
    rows, energies = [compiled.row(channel) for channel in samples], _rows(format)
    borders = edges(format.rate_hz, cells)
    table = np.zeros((energies + len(rows), cells))
    if not cells:
        return table
    for row, sums in zip(rows, table[energies:], strict=True):
        np.add.reduceat(row, borders[:-1], dtype=np.float64, out=sums)
    loop = compiled.made(compiled.stereo_squares if len(rows) == 2 else compiled.squares, samples.dtype)
    if loop is None:
        _with_numpy(rows, borders[:-1], table)
    elif len(rows) == 2:
        loop(*rows, borders, table[:energies])
    else:
        for row, found in zip(rows, table, strict=False):
            loop(row, borders, found)
    return table


def _with_numpy(rows: Sequence[Samples], firsts: Frames, table: Doubles) -> None:
    """Fill the energies of a table."""
    doubles = [row.astype(np.float64) for row in rows]
    if len(doubles) == 2:
        left, right = doubles
        doubles += [left + right, left - right]
    square = np.empty(doubles[0].size)
    for row, found in zip(doubles, table, strict=False):
        np.add.reduceat(np.multiply(row, row, out=square), firsts, out=found)
