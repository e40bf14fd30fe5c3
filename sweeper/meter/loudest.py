"""Where a sound is loudest: the stretch of so many steps in a row that holds the most power."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from sweeper.meter.grid import Doubles, Samples


def powers_of(blocks: Iterable[Samples]) -> Doubles:
    """The sum of squares of each block, (channels, frames): the steps for `loudest_start`."""
    return np.array([float(np.square(block, dtype=np.float64).sum()) for block in blocks])


def loudest_start(powers: Doubles, window: int) -> int:
    """Where the loudest `window` of the powers (one each step, 1-D) starts; the first of equals; 0 for short ones.

    Each window is summed by itself: differences of running sums would round equals apart, and a loop has many.
    """
    if len(powers) <= window:
        return 0
    return int(np.convolve(powers, np.ones(window), "valid").argmax())
