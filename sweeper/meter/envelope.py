"""The lowest and the highest sample in each of a number of equal stretches, and the overs there; streaming."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from sweeper.audio.format import AudioFormat
from sweeper.meter.grid import Samples

Counts = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Envelope:
    """frames: the length of the stream. seen: how many there were. lows, highs: (channels, columns), amplitudes.

    overs: (columns,), samples at or above full scale, each channel's counted. A column that nothing fell into
    has its low above its high until `finish`.
    """

    format: AudioFormat
    frames: int
    seen: int
    lows: Samples
    highs: Samples
    overs: Counts


def start(format: AudioFormat, frames: int, columns: int) -> Envelope:
    """The state before the first sample of a stream of that length, at most `columns` stretches.

    Raises: ValueError without frames or columns.
    """
    if frames < 1 or columns < 1:
        raise ValueError(f"{frames} frames cannot be shown in {columns} columns")
    shape = (format.channels, min(columns, frames))
    return Envelope(format, frames, 0, np.full(shape, np.inf, np.float32), np.full(shape, -np.inf, np.float32),
                    np.zeros(shape[1], np.int64))  # fmt: skip


def advance(state: Envelope, block: Samples) -> Envelope:
    """The state after `block`, (channels, frames). However a stream is cut, the result is the same.

    Raises: ValueError for more frames than were announced.
    """
    end = state.seen + block.shape[1]
    if end > state.frames:
        raise ValueError(f"{end} frames came, {state.frames} were announced")
    if not block.shape[1]:
        return state
    columns = state.lows.shape[1]
    first, last = state.seen * columns // state.frames, (end - 1) * columns // state.frames + 1
    starts = -(-np.arange(first, last, dtype=np.int64) * state.frames // columns)
    at = np.maximum(starts - state.seen, 0)
    lows, highs, overs = state.lows.copy(), state.highs.copy(), state.overs.copy()
    lows[:, first:last] = np.minimum(lows[:, first:last], np.minimum.reduceat(block, at, axis=1))
    highs[:, first:last] = np.maximum(highs[:, first:last], np.maximum.reduceat(block, at, axis=1))
    over = (np.abs(block) >= state.format.full_scale).sum(axis=0)
    overs[first:last] += np.add.reduceat(over, at)
    return replace(state, seen=end, lows=lows, highs=highs, overs=overs)


def finish(state: Envelope) -> Envelope:
    """The envelope; a column that the stream ended before reads 0. Source: definitions."""
    empty = state.lows > state.highs
    return replace(state, lows=np.where(empty, np.float32(0), state.lows),
                   highs=np.where(empty, np.float32(0), state.highs))  # fmt: skip
