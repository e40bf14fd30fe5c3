"""Whether two channels are the same, or opposite, sample for sample; streaming."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sweeper.audio.format import AudioFormat
from sweeper.meter.grid import Samples

#: Less than a step of 24 bits is none.
STEP = 2.0**-23


@dataclass(frozen=True)
class Twins:
    """apart: the largest difference; opposite: the largest sum. highest: of each channel. stereo: there are two."""

    stereo: bool
    apart: float
    opposite: float
    highest: tuple[float, ...]


def start(format: AudioFormat) -> Twins:
    """The state before the first sample."""
    return Twins(format.channels == 2, 0.0, 0.0, (0.0,) * format.channels)


def advance(state: Twins, block: Samples) -> Twins:
    """The state after `block`, (channels, frames)."""
    if not block.shape[1]:
        return state
    peaks = np.abs(block).max(axis=1)
    highest = tuple(max(one, float(peak)) for one, peak in zip(state.highest, peaks, strict=True))
    if not state.stereo:
        return Twins(False, 0.0, 0.0, highest)
    left, right = block
    return Twins(
        True,
        max(state.apart, float(np.abs(left - right).max())),
        max(state.opposite, float(np.abs(left + right).max())),
        highest,
    )


def same(state: Twins) -> bool:
    """Left is right: mono in two channels. Silence is not."""
    return state.stereo and state.apart <= STEP < max(state.highest)


def opposite(state: Twins) -> bool:
    """Left is right turned over."""
    return state.stereo and state.opposite <= STEP < max(state.highest)
