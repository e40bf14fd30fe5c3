"""A lossy file decoded again, and held against what its encoder got. Runs in workers."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sweeper.audio import SoundFile, blocks
from sweeper.delivery.loudest import Loudest
from sweeper.meter.alignment import fine_lag, least_likeness
from sweeper.units import level_db

#: So far either way a decoder may come late or early: the longest encoder delays are a tenth of this.
AROUND_FRAMES = 16384


def found_again(decoded: SoundFile, loudest: Loudest) -> tuple[float | None, float | None]:
    """How many frames later the loudest stretch lies in the file, and what of it coding changed, in dB below it.

    None, None where it is silence, or is not found.
    """
    frames = loudest.samples.shape[1]
    if not frames or loudest.energy <= 0:
        return None, None
    around = _stretch(decoded, loudest.start - AROUND_FRAMES, frames + 2 * AROUND_FRAMES)
    lag = fine_lag(loudest.samples, around)
    if lag.likeness < least_likeness(frames):
        return None, None
    delay = lag.frames - AROUND_FRAMES
    nearest = lag.whole
    left = around[:, nearest : nearest + frames] - loudest.samples
    left_db = level_db(float(np.sqrt(np.square(left).sum() / loudest.energy)))
    return (float(round(delay)) if abs(delay - round(delay)) < 0.05 else delay), left_db


def _stretch(file: SoundFile, first: int, frames: int) -> NDArray[np.float64]:
    """So many frames from `first` on; silence where the file has none."""
    out = np.zeros((file.format.channels, frames))
    begin, end = max(0, first), min(file.frames, first + frames)
    at = begin - first
    for block in blocks(file, AROUND_FRAMES, begin, max(begin, end)):
        out[:, at : at + block.shape[1]] = block
        at += block.shape[1]
    return out
