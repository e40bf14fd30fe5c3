"""How high a second of sound can rise between its samples, stretch by stretch, and how high it does."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from numpy.lib.stride_tricks import sliding_window_view

from sweeper.meter import windows
from sweeper.meter.grid import Doubles, Samples
from sweeper.meter.interpolator import BEFORE, MOST_CURVATURE, MOST_GAIN, TAPS, interpolate
from sweeper.meter.true_peak import SLACK, SPAN, STRETCH, interval_bounds, with_neighbours

Indices = npt.NDArray[np.intp]


@dataclass(frozen=True)
class Stretches:
    """The stretches of a second, (n,). starts: in it, STRETCH on. lengths: frames. steps: in which 100 ms, 0 to 9."""

    starts: Indices
    lengths: Indices
    steps: Indices


@cache
def stretches(rate_hz: int) -> Stretches:
    """Every stretch of a second.

    100 ms are cut evenly, so that a stretch and its neighbour are longer than the interpolation reaches.
    """
    edges = windows.edges(rate_hz, windows.STEPS_PER_S)
    cuts = [np.linspace(a, b, -(-(b - a) // STRETCH), endpoint=False).astype(np.intp)
            for a, b in pairwise(edges)]  # fmt: skip
    starts = np.concatenate(cuts)
    steps = np.repeat(np.arange(len(cuts)), [len(cut) for cut in cuts])
    return Stretches(starts + STRETCH, np.diff(starts, append=rate_hz), steps)


def bounds(joined: Samples, starts: Indices) -> Doubles:
    """What no value between the samples of a stretch exceeds; (channels, stretches).

    joined: (channels, STRETCH + frames of the second + STRETCH).
    """
    magnitude = np.abs(joined)
    slope = np.subtract(joined[:, 1:], joined[:, :-1])
    bend = np.zeros_like(joined)
    np.subtract(slope[:, 1:], slope[:, :-1], out=bend[:, 1:-1])
    ends = np.concatenate(([0], starts, [joined.shape[1] - STRETCH]))
    highest = np.maximum.reduceat(magnitude, ends, axis=1)
    bent = np.maximum.reduceat(np.abs(bend, out=bend), ends, axis=1)
    around, bend_around = with_neighbours(highest), with_neighbours(bent)
    inside = np.maximum(highest[:, 1:-1], magnitude[:, ends[2:]])
    most = np.minimum(MOST_GAIN * around, inside + MOST_CURVATURE * bend_around)
    return np.asarray((1.0 + SLACK) * most + SLACK * around, np.float64)


def highest(joined: Samples, channels: Indices, chosen: Indices, rate_hz: int, needed: Doubles) -> Doubles:
    """The highest magnitude between the samples of each chosen stretch, 0 where none is over `needed`; (n,)."""
    cut = stretches(rate_hz)
    spans = sliding_window_view(joined, SPAN, axis=1)[channels, cut.starts[chosen] - BEFORE].astype(np.float64)
    inside = np.arange(STRETCH) < cut.lengths[chosen, None]
    rows, intervals = np.nonzero((interval_bounds(spans) > needed[:, None]) & inside)
    found = np.zeros(len(spans))
    values = np.abs(interpolate(sliding_window_view(spans, TAPS, axis=1)[rows, intervals]))
    np.maximum.at(found, rows, values.max(axis=1))
    return found
