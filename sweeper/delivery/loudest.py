"""The loudest stretch of a stream, kept while it goes by."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

STRETCH_S = 2
Doubles = NDArray[np.float64]


@dataclass(frozen=True)
class Loudest:
    """start: its first frame. samples: (channels, frames); none before the first whole stretch, or the end."""

    size: int
    place: int
    energy: float
    start: int
    samples: Doubles
    waiting: Doubles


def start(channels: int, rate_hz: int) -> Loudest:
    """Before the first sample."""
    nothing = np.zeros((channels, 0))
    return Loudest(STRETCH_S * rate_hz, 0, -1.0, 0, nothing, nothing)


def advance(state: Loudest, block: Doubles) -> Loudest:
    """After `block`, (channels, frames). Stretches follow each other from the first frame on."""
    waiting = np.concatenate((state.waiting, block), axis=1)
    while waiting.shape[1] >= state.size:
        state = _judged(state, waiting[:, : state.size])
        waiting = waiting[:, state.size :]
    return replace(state, waiting=waiting.copy())


def finish(state: Loudest) -> Loudest:
    """The same; what is shorter than a stretch counts where there is nothing else."""
    return _judged(state, state.waiting) if state.energy < 0 and state.waiting.size else state


def _judged(state: Loudest, stretch: Doubles) -> Loudest:
    energy, place = float(np.square(stretch).sum()), state.place
    state = replace(state, place=place + stretch.shape[1])
    return replace(state, energy=energy, start=place, samples=stretch.copy()) if energy > state.energy else state
