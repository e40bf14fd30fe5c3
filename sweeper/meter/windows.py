"""The 3 s windows of a stream, one every 100 ms: how loud each is, and sums and maxima over it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import cast

import numpy as np
import numpy.typing as npt

from sweeper.meter import loudness
from sweeper.meter.gating import OFFSET_LUFS
from sweeper.meter.grid import Doubles

STEPS_PER_S = 10
STEPS = 30  # of 100 ms in a window of 3 s
LEAST_LUFS = -70.0  # windows under it are not taken: the absolute gate of ITU-R BS.1770-5
LEAST_POWER = 10.0 ** ((LEAST_LUFS - OFFSET_LUFS) / 10.0)


@dataclass(frozen=True)
class Windows:
    """powers: K-weighted mean squares, weighted by channel, one a window: 10 log10 of it - 0.691 is its loudness.

    reason: why there are none; "" where there are.
    """

    powers: Doubles
    reason: str = ""

    @property
    def heard(self) -> npt.NDArray[np.bool_]:
        """Which windows are at or above -70 LUFS."""
        return np.asarray(self.powers >= LEAST_POWER)


def windows(state: loudness.Loudness) -> Windows:
    """The loudness of every whole window that has been seen; window k starts k / 10 s from the first frame."""
    _, powers = loudness.over_time(state)
    return Windows(powers, "" if powers.size else loudness.unmeasured(state) or loudness.NO_SHORT_TERM)


def steps(state: loudness.Loudness, first_s: int, end_s: int) -> Doubles:
    """The K-weighted energies of every 100 ms of some whole seconds, weighted by channel; 0 where there are no weights.

    end_s: the first second that is not included.
    """
    weights = np.asarray(loudness.WEIGHTS.get(state.format.channels, (0.0,) * state.format.channels))
    energies = loudness.sub_blocks(state, first_s * loudness.SUB_BLOCKS_PER_S, end_s * loudness.SUB_BLOCKS_PER_S)
    summed: Doubles = (weights @ energies[: weights.size]).reshape(-1, loudness.HOP).sum(axis=1)
    return summed


def sums(steps: Doubles) -> Doubles:
    """Of what is said of every 100 ms, (..., steps), the sum over each window, (..., steps - 29)."""
    return _over_windows(steps, np.add)


def maxima(steps: Doubles) -> Doubles:
    """The largest of each window, (..., steps - 29)."""
    return _over_windows(steps, np.maximum)


def _over_windows(steps: Doubles, join: np.ufunc) -> Doubles:
    """What `join` makes of each window, put together from 2, 4, 8 and 16 steps, each of which is two halves joined."""
    found, width, halves = None, 1, steps
    left, count = 0, steps.shape[-1] - STEPS + 1
    while 2 * width <= STEPS:
        width, halves = 2 * width, join(halves[..., :-width], halves[..., width:])
        if STEPS & width:
            part = halves[..., left : left + count]
            found, left = part if found is None else join(found, part), left + width
    return cast(Doubles, found)


@lru_cache(maxsize=16)
def frames_in(rate_hz: int, steps: int) -> Doubles:
    """How many frames each window has, (steps - 29,)."""
    ends = edges(rate_hz, steps)
    frames = np.asarray(ends[STEPS:] - ends[:-STEPS], np.float64)
    frames.setflags(write=False)
    return frames


def edges(rate_hz: int, steps: int) -> npt.NDArray[np.int64]:
    """The frames where steps of 100 ms start and end: k * rate / 10, rounded, halves up; (steps + 1,)."""
    count = np.arange(steps + 1, dtype=np.int64)
    return (2 * count * rate_hz + STEPS_PER_S) // (2 * STEPS_PER_S)
