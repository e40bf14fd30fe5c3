"""Intersample overs: where a stream rises above full scale between its samples, or on them; streaming."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from sweeper.audio.format import AudioFormat
from sweeper.meter.grid import Samples, carve, nothing
from sweeper.meter.interpolator import BEFORE, KERNEL, MOST_GAIN, TAPS

STEP_FRAMES = 8192
#: Of the 15 values between two samples, three are looked at: four times oversampled, as in ITU-R BS.1770-5 Annex 2.
QUARTERS = KERNEL[:, 3::4].astype(np.float32)
#: Overs that lie closer together are one place to listen to. Ours.
TOGETHER_S = 0.05
MOST_PLACES = 1000
LEAST = 1.0 / MOST_GAIN


@dataclass(frozen=True)
class BetweenOvers:
    """count: places so far. places: frames where they begin. latest: the last frame over. before: TAPS - 1 frames."""

    format: AudioFormat
    frames: int
    count: int
    places: tuple[int, ...]
    latest: int
    before: Samples
    pending: Samples


def start(format: AudioFormat) -> BetweenOvers:
    """The state before the first sample, which silence precedes."""
    before = np.zeros((format.channels, TAPS - 1), np.float32)
    return BetweenOvers(format, 0, 0, (), -(10**9), before, nothing(format.channels))


def advance(state: BetweenOvers, block: Samples) -> BetweenOvers:
    """The state after `block`, (channels, frames)."""
    steps, pending = carve(state.pending, block, STEP_FRAMES)
    for at in range(0, steps.shape[1], STEP_FRAMES):
        state = _judged(state, steps[:, at : at + STEP_FRAMES])
    return BetweenOvers(state.format, state.frames, state.count, state.places, state.latest, state.before, pending)


def finish(state: BetweenOvers) -> tuple[int, tuple[int, ...]]:
    """How many places lie over full scale, in any channel, and the frames that the first of them begin at.

    Full scale is 1.0. Overs within 50 ms are one place. A sine at a quarter of the rate of amplitude 1.2 whose samples
    lie at 0.85 is one long place. Silence follows the stream. Source: interpolation as in ITU-R BS.1770-5 Annex 2.
    """
    end = np.concatenate((state.pending, np.zeros((state.format.channels, TAPS), np.float32)), axis=1)
    state = _judged(state, end)
    return state.count, state.places


def _judged(state: BetweenOvers, step: Samples) -> BetweenOvers:
    joined = np.concatenate((state.before, step), axis=1)
    over = np.zeros(joined.shape[1] - TAPS + 1, bool)
    for channel in joined:
        _mark(channel, over)
    first = state.frames - (TAPS - 1) + BEFORE
    at = np.flatnonzero(over) + first
    count, places, latest = state.count, state.places, state.latest
    if at.size:
        new = np.diff(at, prepend=latest) > TOGETHER_S * state.format.rate_hz
        count += int(new.sum())
        places = (*places, *(max(0, int(each)) for each in at[new][: MOST_PLACES - len(places)]))
        latest = int(at[-1])
    return BetweenOvers(
        state.format, state.frames + step.shape[1], count, places, latest, joined[:, 1 - TAPS :].copy(), step[:, :0]
    )


def _mark(channel: Samples, over: np.ndarray) -> None:
    """Set where the left sample of an interval, or what follows it before the next, is over."""
    if float(np.abs(channel).max()) <= LEAST:
        return
    windows = sliding_window_view(channel, TAPS)
    ends = np.maximum(
        np.abs(channel[BEFORE : BEFORE + len(windows)]), np.abs(channel[BEFORE + 1 : BEFORE + 1 + len(windows)])
    )
    over |= np.abs(channel[BEFORE : BEFORE + len(windows)]) > 1.0
    likely = np.flatnonzero(ends > 0.5)  # between two samples under half of full scale nothing in music comes to it
    if likely.size:
        between = np.abs(windows[likely].astype(np.float32) @ QUARTERS).max(axis=1)
        over[likely] |= between > 1.0
