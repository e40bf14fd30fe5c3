"""The 16-times interpolator behind true peak, and how far above the samples it can rise."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sweeper.meter.grid import Doubles

PHASES, TAPS, BETA = 16, 64, 9.0
CENTRE = 31  # an interpolated value lies between taps CENTRE and CENTRE + 1
BEFORE, AFTER = CENTRE, TAPS - CENTRE - 1  # taps on either side of the left sample of an interval
NEAR = slice(25, 37)  # of the TAPS - 2 second differences in a window, the middle ones


def _kernel() -> Doubles:
    """Kaiser-windowed sinc, each phase scaled to sum 1; (TAPS, PHASES - 1): phase 0 is the sample itself."""
    distance = np.arange(TAPS)[:, None] - CENTRE - np.arange(1, PHASES) / PHASES
    window = np.i0(BETA * np.sqrt(1.0 - (distance / (TAPS // 2)) ** 2)) / np.i0(BETA)
    weights = np.sinc(distance) * window
    return np.ascontiguousarray(weights / weights.sum(axis=0))


def _curvature() -> Doubles:
    """What is left of each phase beyond straight-line interpolation, as weights of second differences.

    A branch minus its value and slope at the centre has no zeroth or first moment, so it is a second
    difference of its own double running sum: |y| <= |straight line| + sum(weights * |second differences|).
    Returns magnitudes, (TAPS - 2, PHASES - 1).
    """
    slope = ((np.arange(TAPS) - CENTRE)[:, None] * KERNEL).sum(axis=0)
    rest = KERNEL.copy()
    rest[CENTRE] -= 1.0 - slope
    rest[CENTRE + 1] -= slope
    weights: Doubles = np.abs(rest.cumsum(axis=0).cumsum(axis=0))[:-2]
    return weights


def _most(weights: Doubles) -> float:
    """The largest sum of magnitudes over phases."""
    return float(np.abs(weights).sum(axis=0).max())


KERNEL = _kernel()
CURVATURE = _curvature()
MOST_GAIN = _most(KERNEL)  # 2.794: an interpolated value is at most this times the highest sample of its window
MOST_CURVATURE = _most(CURVATURE)  # 0.539: it rises over a straight line by at most this times the sharpest bend
NEAR_CURVATURE = _most(CURVATURE[NEAR])
FAR_CURVATURE = _most(np.delete(CURVATURE, NEAR, axis=0))


def interpolate(windows: Doubles) -> Doubles:
    """The PHASES - 1 values inside the middle interval of each window, (n, TAPS) -> (n, PHASES - 1).

    Fast; the last bits may depend on n. `interpolate_one_phase` is exact to the bit.
    """
    return windows @ KERNEL


def interpolate_one_phase(windows: Doubles, phases: npt.NDArray[np.intp]) -> Doubles:
    """One value a window, (n, TAPS) and (n,) -> (n,); each depends on nothing but its own window."""
    values: Doubles = (windows * KERNEL.T[phases]).sum(axis=1)
    return values
