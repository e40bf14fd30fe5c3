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
from sweeper.meter.interpolator import (
    AFTER,
    BEFORE,
    CENTRE,
    FAR_CURVATURE,
    MOST_CURVATURE,
    MOST_GAIN,
    NEAR,
    NEAR_CURVATURE,
    TAPS,
    interpolate,
)

STRETCH = 64  # frames judged together, at most
SPAN = BEFORE + STRETCH + AFTER
SLACK = 1e-6  # over the error of bounds worked out in single precision
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
    around, bend_around = _with_neighbours(highest), _with_neighbours(bent)
    inside = np.maximum(highest[:, 1:-1], magnitude[:, ends[2:]])
    most = np.minimum(MOST_GAIN * around, inside + MOST_CURVATURE * bend_around)
    return np.asarray((1.0 + SLACK) * most + SLACK * around, np.float64)


def highest(joined: Samples, channels: Indices, chosen: Indices, rate_hz: int, needed: Doubles) -> Doubles:
    """The highest magnitude between the samples of each chosen stretch, 0 where none is over `needed`; (n,)."""
    cut = stretches(rate_hz)
    spans = sliding_window_view(joined, SPAN, axis=1)[channels, cut.starts[chosen] - BEFORE].astype(np.float64)
    inside = np.arange(STRETCH) < cut.lengths[chosen, None]
    rows, intervals = np.nonzero((_interval_bounds(spans) > needed[:, None]) & inside)
    found = np.zeros(len(spans))
    values = np.abs(interpolate(sliding_window_view(spans, TAPS, axis=1)[rows, intervals]))
    np.maximum.at(found, rows, values.max(axis=1))
    return found


def _interval_bounds(spans: Doubles) -> Doubles:
    """What no value inside an interval exceeds, (n, SPAN) -> (n, STRETCH)."""
    magnitude, bend = np.abs(spans), np.abs(spans[:, 2:] - 2.0 * spans[:, 1:-1] + spans[:, :-2])
    ends = np.maximum(magnitude[:, CENTRE : CENTRE + STRETCH], magnitude[:, CENTRE + 1 : CENTRE + 1 + STRETCH])
    near = _moving_max(bend, NEAR.stop - NEAR.start)[:, NEAR.start : NEAR.start + STRETCH]
    most: Doubles = ends + NEAR_CURVATURE * near + FAR_CURVATURE * bend.max(axis=1, keepdims=True)
    return (1.0 + SLACK) * most


def _moving_max(values: Doubles, width: int) -> Doubles:
    """Maximum over some values in a row; (n, m) -> (n, m - width + 1)."""
    covered = 1
    while covered < width:
        shift = min(covered, width - covered)
        values = np.maximum(values[:, :-shift], values[:, shift:])
        covered += shift
    return values


def _with_neighbours(values: Samples) -> Samples:
    return np.asarray(np.maximum(np.maximum(values[:, :-2], values[:, 2:]), values[:, 1:-1]))
