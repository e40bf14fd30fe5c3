"""True peak: the highest level on and between the samples, interpolated 16 times.

Nearly all stretches provably cannot hold the peak and are not interpolated: skipping them changes nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from sweeper.audio.format import AudioFormat
from sweeper.meter import compiled
from sweeper.meter.findings import EMPTY, Findings, absent, peak_level
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
    interpolate_one_phase,
)

STRETCH = compiled.STRETCH  # frames judged together, counted from the first frame of the stream
SPAN = BEFORE + STRETCH + AFTER  # frames that the intervals starting in one stretch are made of
SLACK = 1e-6  # over the error of bounds worked out in single precision
TIE = 1.0 - 1e-12  # under the error of the fast interpolation
FIRST_BATCH, LARGEST_BATCH = 8, 128


@dataclass(frozen=True)
class TruePeak:
    """best: highest magnitude so far. tail: from two stretches before the first not yet judged."""

    frames: int
    best: float
    tail: Samples


def start(format: AudioFormat) -> TruePeak:
    """The state before the first sample, which silence precedes."""
    return TruePeak(0, 0.0, np.zeros((format.channels, 2 * STRETCH), np.float32))


def advance(state: TruePeak, block: Samples) -> TruePeak:
    """The state after `block`, (channels, frames)."""
    if not block.shape[1]:
        return state
    joined = np.ascontiguousarray(np.concatenate((state.tail, block), axis=1))
    stretches = joined.shape[1] // STRETCH
    if stretches < 3:
        return TruePeak(state.frames + block.shape[1], state.best, joined)
    best = _search(joined[:, : stretches * STRETCH], state.best)
    return TruePeak(state.frames + block.shape[1], best, joined[:, (stretches - 2) * STRETCH :].copy())


def finish(state: TruePeak) -> Findings:
    """true_peak_dbtp of everything seen: the higher of the sample peak and the interpolated one.

    A sine at a quarter of the rate whose samples all lie at 0.707 of its amplitude reads 3.01 dB over its
    sample peak. Steady sines up to 0.45 of the rate read within -0.03 and +0.01 dB. Silence surrounds the
    signal: a rise right at either end counts. Silence and no samples have none.
    Source: ITU-R BS.1770-5 Annex 2 (method: "similar or superior" to its example, recommends 5).
    """
    if not state.frames:
        return {"true_peak_dbtp": absent(EMPTY)}
    silence = np.zeros((len(state.tail), -state.tail.shape[1] % STRETCH + 2 * STRETCH), np.float32)
    return {"true_peak_dbtp": peak_level(advance(state, silence).best)}


def _search(joined: Samples, best: float) -> float:
    """The highest of `best` and what lies between the samples of all stretches but the first and last."""
    highest, bent = _outline(joined)
    best = max(best, float(highest.max()))
    bounds = _bounds(joined, highest, bent)
    possible = np.flatnonzero(bounds > best)
    if not possible.size:
        return best
    order = possible[np.argsort(-bounds[possible], kind="stable")]
    spans = sliding_window_view(joined, SPAN, axis=1)[:, STRETCH - BEFORE :: STRETCH]
    size, done = FIRST_BATCH, 0
    while done < order.size and bounds[order[done]] > best:
        batch = order[done : done + size]
        channels, stretches = np.divmod(batch, joined.shape[1] // STRETCH - 2)
        best = _interpolated(spans[channels, stretches].astype(np.float64), best)
        done, size = done + size, min(2 * size, LARGEST_BATCH)
    return best


def _bounds(joined: Samples, highest: Samples, bent: Samples) -> Doubles:
    """What no value between the samples of a stretch exceeds; one a channel and inner stretch, flat."""
    around, bend_around = with_neighbours(highest), with_neighbours(bent)
    inside = np.maximum(highest[:, 1:-1], np.abs(joined[:, 2 * STRETCH :: STRETCH]))
    bounds = np.minimum(MOST_GAIN * around, inside + MOST_CURVATURE * bend_around)
    return np.asarray((1.0 + SLACK) * bounds + SLACK * around, np.float64).ravel()


def _outline(joined: Samples) -> tuple[Samples, Samples]:
    """The highest magnitude and the largest second difference of each stretch, both (channels, stretches).

    Bends are counted where they begin: those that an inner stretch needs lie in it and its neighbours.
    """
    loop = compiled.made(compiled.outline, joined.dtype) if joined.dtype == np.float32 else None
    if loop is None:
        return _outline_with_numpy(joined)
    bits = np.empty((2, len(joined), joined.shape[1] // STRETCH), np.int32)
    for channel, samples in enumerate(joined):
        loop(compiled.row(samples), bits[0, channel], bits[1, channel])
    highest, bent = bits.view(np.float32)
    return highest, bent


def _outline_with_numpy(joined: Samples) -> tuple[Samples, Samples]:
    bend = np.zeros_like(joined)
    np.subtract(joined[:, 1:], joined[:, :-1], out=bend[:, :-1])
    bend[:, :-2] = bend[:, 1:-1] - bend[:, :-2]
    bend[:, -2:] = 0.0
    return _stretch_max(np.abs(joined)), _stretch_max(np.abs(bend, out=bend))


def _stretch_max(values: Samples) -> Samples:
    starts = np.arange(0, values.shape[1], STRETCH)
    return cast(Samples, np.maximum.reduceat(values, starts, axis=1))


def with_neighbours(values: Samples) -> Samples:
    """The largest of each value and the two beside it, (channels, n) -> (channels, n - 2)."""
    return cast(Samples, np.maximum(np.maximum(values[:, :-2], values[:, 2:]), values[:, 1:-1]))


def _interpolated(spans: Doubles, best: float) -> float:
    """The highest of `best` and what lies between the samples of each span, (n, SPAN)."""
    rows, intervals = np.nonzero(interval_bounds(spans) > best)
    windows = sliding_window_view(spans, TAPS, axis=1)[rows, intervals]
    values = np.abs(interpolate(windows))
    if not values.size:
        return best
    picked, phases = np.nonzero(values >= max(best, float(values.max())) * TIE)
    exact = np.abs(interpolate_one_phase(windows[picked], phases))
    return max(best, float(exact.max(initial=0.0)))


def interval_bounds(spans: Doubles) -> Doubles:
    """What no value inside an interval exceeds, (n, SPAN) -> (n, STRETCH)."""
    magnitude = np.abs(spans)
    bend = np.abs(np.diff(spans, 2, axis=1))
    left, right = magnitude[:, CENTRE : CENTRE + STRETCH], magnitude[:, CENTRE + 1 : CENTRE + 1 + STRETCH]
    ends = np.maximum(left, right)
    near = _moving_max(bend)[:, NEAR.start : NEAR.start + STRETCH]
    bounds: Doubles = ends + NEAR_CURVATURE * near + FAR_CURVATURE * bend.max(axis=1, keepdims=True)
    return (1.0 + SLACK) * bounds


def _moving_max(values: Doubles) -> Doubles:
    """Maximum over 12 values in a row, the width of NEAR; (n, m) -> (n, m - 11)."""
    for shift in (1, 2, 4, 4):
        values = np.maximum(values[:, :-shift], values[:, shift:])
    return values
