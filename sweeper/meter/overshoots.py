"""Where the sound swings past its samples: of every tenth of a second, its sample peak and an estimate between samples.

A limiter that holds the samples lets through what lies between them, so that is where its output peaks; streaming.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sweeper.audio.format import AudioFormat
from sweeper.meter.gating_blocks import TENTHS_PER_S
from sweeper.meter.grid import Doubles, Samples, carve, nothing

#: Lagrange interpolation half-way between six samples (a handbook formula, from memory); the outermost first.
HALF_WAY = (3 / 256, -25 / 256, 150 / 256)
REACH = len(HALF_WAY)


@dataclass(frozen=True)
class Overshoots:
    """Of every whole tenth of a second, (tenths,): the largest sample, and the largest value half-way between two."""

    samples: Doubles
    between: Doubles


@dataclass(frozen=True)
class Seen:
    """What has been seen so far. last: the last few samples of whole tenths. rest: those that came since."""

    format: AudioFormat
    samples: tuple[Doubles, ...]
    between: tuple[Doubles, ...]
    last: Samples
    rest: Samples


def start(format: AudioFormat) -> Seen:
    """The state before the first sample, which silence precedes."""
    return Seen(format, (), (), np.zeros((format.channels, 2 * REACH - 1), np.float32), nothing(format.channels))


def advance(state: Seen, block: Samples) -> Seen:
    """The state after `block`, (channels, frames)."""
    step = state.format.rate_hz // TENTHS_PER_S
    whole, rest = carve(state.rest, block, step)
    if not whole.shape[1]:
        return replace(state, rest=rest)
    joined = np.concatenate((state.last, whole), axis=1)
    count = whole.shape[1]
    between = sum(weight * (joined[:, n : n + count] + joined[:, 2 * REACH - 1 - n : 2 * REACH - 1 - n + count])
                  for n, weight in enumerate(HALF_WAY))  # fmt: skip
    return replace(state, samples=(*state.samples, _largest(whole, step)),
                   between=(*state.between, _largest(np.asarray(between), step)),
                   last=joined[:, -(2 * REACH - 1) :].copy(), rest=rest)  # fmt: skip


def finish(state: Seen) -> Overshoots:
    """Everything seen but a last tenth that is not whole. The estimate is late by two or three samples."""
    return Overshoots(np.concatenate((*state.samples, np.zeros(0))), np.concatenate((*state.between, np.zeros(0))))


def _largest(sound: Samples, step: int) -> Doubles:
    return np.asarray(np.abs(sound).max(axis=0).reshape(-1, step).max(axis=1), np.float64)
