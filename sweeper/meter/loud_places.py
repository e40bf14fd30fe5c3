"""Where to look closely: the loudest stretch of each of some parts of a stream, by its treble; streaming."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sweeper.audio.format import AudioFormat
from sweeper.meter.grid import Doubles, Samples, carve, nothing

CELL_FRAMES = 2048


@dataclass(frozen=True)
class LoudPlaces:
    """energies: of the differences from sample to sample, a cell at a time; in parts, as they came."""

    energies: tuple[Doubles, ...]
    pending: Samples


def start(format: AudioFormat) -> LoudPlaces:
    """The state before the first sample."""
    return LoudPlaces((), nothing(format.channels))


def advance(state: LoudPlaces, block: Samples) -> LoudPlaces:
    """The state after `block`, (channels, frames)."""
    steps, pending = carve(state.pending, block, CELL_FRAMES)
    if not steps.shape[1]:
        return LoudPlaces(state.energies, pending)
    bends = np.square(np.diff(steps, axis=1, prepend=steps[:, :1])).sum(axis=0, dtype=np.float64)
    cells = bends.reshape(-1, CELL_FRAMES).sum(axis=1)
    return LoudPlaces((*state.energies, cells), pending)


def finish(state: LoudPlaces, frames: int, parts: int) -> tuple[int, ...]:
    """The frames where the loudest stretches of so many frames begin, one a part, in order; silent ones left out."""
    energies, size = np.concatenate((np.zeros(0), *state.energies)), -(-frames // CELL_FRAMES)
    found = []
    for part in np.array_split(np.arange(energies.size), parts):
        if part.size < size:
            continue
        sums = np.convolve(energies[part], np.ones(size), "valid")
        if sums.max() > 0:
            found.append(int(part[int(np.argmax(sums))]) * CELL_FRAMES)
    return tuple(found)
