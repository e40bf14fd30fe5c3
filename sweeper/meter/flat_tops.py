"""Clipped runs: samples in a row that stand at a channel's highest level, wherever that lies; streaming."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sweeper.audio.format import AudioFormat
from sweeper.meter.grid import Doubles, Samples, carve, nothing

#: Worked on at a time, so that how a stream is cut changes nothing.
STEP_FRAMES = 32768
#: Dither of 16 bits behind a clipper moves its tops by so much: two steps, and rounding.
STEP = 2.0**-15
NEAR = 2.5 * STEP
#: A flat top has so many samples, and falls by so much on at least one side: the top of a slow wave is round. Ours.
FEWEST, FALL = 3, 24 * STEP
#: Of the first runs, the places are kept.
MOST_PLACES = 1000


@dataclass(frozen=True)
class Top:
    """One side of one channel. highest: so far. runs: of FEWEST or more at it. longest: frames. places: of runs."""

    highest: float = 0.0
    runs: int = 0
    longest: int = 0
    places: tuple[int, ...] = ()


@dataclass(frozen=True)
class FlatTops:
    """tops: of each channel, the upper and the lower. frames: judged. before: the tail that a run may go on from."""

    format: AudioFormat
    tops: tuple[Top, ...]
    frames: int
    before: Samples
    pending: Samples


@dataclass(frozen=True)
class Clipped:
    """runs: of all channels. longest_frames: of one. places: frames where runs begin. level: their amplitude."""

    runs: int
    longest_frames: int
    places: tuple[int, ...]
    level: float


def start(format: AudioFormat) -> FlatTops:
    """The state before the first sample."""
    none = nothing(format.channels)
    return FlatTops(format, (Top(),) * (2 * format.channels), 0, none, none)


def advance(state: FlatTops, block: Samples) -> FlatTops:
    """The state after `block`, (channels, frames)."""
    steps, pending = carve(state.pending, block, STEP_FRAMES)
    for at in range(0, steps.shape[1], STEP_FRAMES):
        state = _judged(state, steps[:, at : at + STEP_FRAMES], last=False)
    return FlatTops(state.format, state.tops, state.frames, state.before, pending)


def finish(state: FlatTops) -> Clipped:
    """Every flat top of everything seen.

    A run is FEWEST or more samples in a row within 2.5 16-bit steps of the highest level of that side of that channel,
    which falls by FALL (24 steps) on at least one side. np.clip of a sine gives one a half wave; a sine that is not
    clipped, and silence, give none. Source: our own definition; the trade counts samples at full scale.
    """
    state = _judged(state, state.pending, last=True)
    runs = [top for top in state.tops if top.runs]
    places = sorted({place for top in runs for place in top.places})
    longest = max(runs, key=lambda top: top.longest, default=Top())
    return Clipped(sum(top.runs for top in runs), longest.longest, tuple(places), longest.highest)


def _judged(state: FlatTops, step: Samples, last: bool) -> FlatTops:
    joined = np.concatenate((state.before, step), axis=1).astype(np.float64)
    first = state.frames - state.before.shape[1]
    sides = [side for channel in joined for side in (channel, -channel)]
    found = [_top(top, side, first, last) for top, side in zip(state.tops, sides, strict=True)]
    keep = max((open for _, open in found), default=0)
    before = joined[:, joined.shape[1] - keep :] if keep else joined[:, :0]
    return FlatTops(
        state.format, tuple(top for top, _ in found), first + joined.shape[1], before.astype(step.dtype), step[:, :0]
    )


def _top(top: Top, side: Doubles, first: int, last: bool) -> tuple[Top, int]:
    """The top after these samples, and how many of them a run that is still open needs again."""
    if not side.size:
        return top, 0
    highest = float(side.max())
    if highest > top.highest + NEAR:
        top = Top(highest)
    elif highest < top.highest - NEAR or top.highest <= 0:
        return top, 0
    at = np.concatenate(([False], side >= top.highest - NEAR, [False]))
    begins, ends = np.flatnonzero(np.diff(at)).reshape(-1, 2).T
    open = 0
    if ends.size and ends[-1] == side.size and not last:
        open = min(int(side.size - begins[-1]) + 1, STEP_FRAMES)
        begins, ends = begins[:-1], ends[:-1]
    # A run that touches the first sample was open before, and is judged with the sample that stood before it.
    long = ends - begins >= FEWEST
    begins, ends = begins[long], ends[long]
    sharp = (_fall(side, begins - 1, top.highest) >= FALL) | (_fall(side, ends, top.highest) >= FALL)
    begins, ends = begins[sharp], ends[sharp]
    if not begins.size:
        return top, open
    places = (*top.places, *(first + int(each) for each in begins[: MOST_PLACES - len(top.places)]))
    return Top(top.highest, top.runs + begins.size, max(top.longest, int((ends - begins).max())), places), open


def _fall(side: Doubles, at: np.ndarray, highest: float) -> Doubles:
    """How far below the top the sample at each place lies; 0 beyond either end."""
    inside = (at >= 0) & (at < side.size)
    return np.where(inside, highest - side[np.clip(at, 0, side.size - 1)], 0.0)
