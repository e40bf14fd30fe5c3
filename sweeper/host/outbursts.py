"""Bursts and drop-outs among the levels of a stage: output that no input explains, in levels of octave bands.

What explains an output: the input now, the input of the last ten seconds (echoes, reverberation), and what the stage
usually makes of such input (gates, expanders, saturation). So a burst is
- loud: above -60 dBFS, and no more than 20 dB below the programme;
- 6 dB above the loudest of the last ten seconds of input, at the stage's usual gain;
- 12 dB above four in five of the outputs that the stage gave for input as loud, or up to 10 dB louder;
- sudden: it begins and ends within two windows, by more than the input moved; and lasts no more than four seconds.
All limits were tried on music through seventeen plugins in extreme settings; there is no standard.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy.ndimage
from numpy.typing import NDArray

Decibels = NDArray[np.float64]
Flags = NDArray[np.bool_]

ABOVE_DB = 12.0
#: Above the loudest of the input that may still sound, at the usual gain: less is asked, for that is much already.
ABOVE_LOUDEST_DB = 6.0
LOUD_DBFS, BELOW_PROGRAMME_DB = -60.0, 20.0
MEMORY_S = 10.0
#: Where a band is loud: so far below what one window in ten exceeds, or nearer.
LOUD_RANGE_DB = 20.0
#: How far back the sound reaches that a window's output is the immediate answer to.
ANSWER_S = 0.1
SUDDEN_DB = 10.0
SUDDEN_WINDOWS = 2
#: An output is its input, louder, where its bands stand to each other so nearly as there, and so much of it is a copy.
SAME_SHAPE_DB, SAME_SHARE = 3.0, 0.5
LONGEST_BURST_S, SHORTEST_BURST_WINDOWS = 4.0, 2
#: Two stretches with less between them are one.
APART_S = 0.15
#: An output below is silence; an input above is sound, when it is not far below the programme.
SILENCE_DBFS, SOUND_DBFS, BELOW_MEDIAN_DB = -90.0, -60.0, 15.0
SHORTEST_DROP_OUT_S, MUTED_DB, SOUNDING_SHARE = 0.1, 40.0, 0.6
#: How many windows of like input make a usage, and how much of them must differ.
LIKE_WINDOWS, LIKE_SHARE, LIKE_RANGE_DB = 40, 0.8, 10.0


@dataclass(frozen=True)
class Levels:
    """What went in and came out, (windows, bands) in dBFS.

    likeness: the share of each window's output that is its input times a factor, 0 to 1, (windows,). tail_s: how long
    the stage is known to ring on.
    """

    went_in: Decibels
    came_out: Decibels
    likeness: NDArray[np.float64]
    window_s: float
    tail_s: float

    def windows(self, seconds: float) -> int:
        """How many windows a time lasts, at least one."""
        return max(1, round(seconds / self.window_s))

    @cached_property
    def total_in(self) -> Decibels:
        """The level of each window going in, all bands together, (windows,)."""
        return _total(self.went_in)

    @cached_property
    def total_out(self) -> Decibels:
        """The level of each window coming out, all bands together, (windows,)."""
        return _total(self.came_out)

    @cached_property
    def usual_gain(self) -> Decibels:
        """What the stage adds to each band where that is loud, (bands,); at least nothing, for gates may be shut."""
        gains = self.came_out - self.went_in
        found = np.zeros(gains.shape[1])
        for band, went_in in enumerate(self.went_in.T):
            for least in (np.quantile(went_in, 0.9) - LOUD_RANGE_DB, np.quantile(went_in, 0.95)):
                found[band] = max(found[band], np.median(gains[went_in >= least, band]))
        return found


def bursts_s(levels: Levels) -> tuple[float, ...]:
    """Where bursts begin, in seconds."""
    beyond = _beyond(levels)
    found = []
    for first, last in _stretches(np.asarray(beyond.any(axis=1)), levels.windows(APART_S)):
        if not SHORTEST_BURST_WINDOWS <= last - first <= levels.windows(LONGEST_BURST_S):
            continue
        band = int(beyond[first:last].sum(axis=0).argmax())
        if _sudden(levels, band, first, last) and _unlike(levels, first, last) and _unusual(levels, band, first, last):
            found.append(first * levels.window_s)
    return tuple(found)


def drop_outs_s(levels: Levels) -> tuple[float, ...]:
    """Where the output falls silent though it does not for such input, nor for quieter; in seconds."""
    went_in, came_out = levels.total_in, levels.total_out
    sounding = went_in > max(SOUND_DBFS, float(np.median(went_in)) - BELOW_MEDIAN_DB)
    heard_before = np.cumsum(came_out > SOUND_DBFS)
    found = []
    for first, last in _stretches(came_out < SILENCE_DBFS, 1):
        unheard = went_in[first:last][sounding[first:last]]
        if heard_before[first] < LIKE_WINDOWS or len(unheard) < levels.windows(SHORTEST_DROP_OUT_S):
            continue
        level = float(np.median(unheard))
        usual = came_out[(went_in >= level - LIKE_RANGE_DB) & (went_in <= level)]
        sounds = len(usual) >= LIKE_WINDOWS and np.quantile(usual, 1 - SOUNDING_SHARE) > SILENCE_DBFS + MUTED_DB
        if sounds and not _paused(levels, first, last):
            found.append(first * levels.window_s)
    return tuple(found)


def _beyond(levels: Levels) -> Flags:
    """Which windows are loud, and louder than anything the input of the last ten seconds accounts for, by band."""
    programme_db = float(np.quantile(levels.total_out, 0.9))
    loud = levels.came_out > max(LOUD_DBFS, programme_db - BELOW_PROGRAMME_DB)
    accounted = _lately(levels.went_in, levels.windows(max(MEMORY_S, levels.tail_s))) + levels.usual_gain
    found: Flags = loud & (levels.came_out > accounted + ABOVE_LOUDEST_DB)
    return found


def _lately(values: Decibels, windows: int) -> Decibels:
    """The largest of the last so many windows and of the next, for each window; bands each by itself."""
    size = windows + 2
    origin = size // 2 - 1 - (size + 1) % 2
    found: Decibels = scipy.ndimage.maximum_filter1d(values, size, axis=0, mode="nearest", origin=origin)
    return found


def _sudden(levels: Levels, band: int, first: int, last: int) -> bool:
    """Whether the output rises at the beginning and falls at the end, by more than the input does."""
    out, went = levels.came_out[:, band], levels.went_in[:, band]
    before = slice(max(0, first - SUDDEN_WINDOWS - 1), first)
    after = slice(last, last + SUDDEN_WINDOWS + 1)
    begins = _rise(out, before, slice(first, first + SUDDEN_WINDOWS)) - max(
        0.0, _rise(went, before, slice(max(0, first - 1), first + SUDDEN_WINDOWS)))  # fmt: skip
    ends = _rise(out, after, slice(last - SUDDEN_WINDOWS, last))
    return begins >= SUDDEN_DB and ends >= SUDDEN_DB


def _rise(values: Decibels, before: slice, after: slice) -> float:
    """By how much the loudest of the windows `after` is above the quietest `before`; infinite where there is none."""
    if not len(values[before]):
        return np.inf
    return float(values[after].max() - values[before].min())


def _unlike(levels: Levels, first: int, last: int) -> bool:
    """Whether the output is another sound than the input: a gate that opens lets its input through."""
    added = levels.came_out[first:last] - levels.went_in[first:last] - levels.usual_gain
    same_shape = float(np.median(added.std(axis=1))) < SAME_SHAPE_DB
    return not same_shape or float(np.median(levels.likeness[first:last])) < SAME_SHARE


def _unusual(levels: Levels, band: int, first: int, last: int) -> bool:
    """Whether the stage mostly gives far less for such input, in most of these windows."""
    answer = levels.windows(ANSWER_S)
    total, own = _lately(levels.total_in[:, None], answer)[:, 0], _lately(levels.went_in, answer)[:, band]
    out = levels.came_out[:, band]
    more = 0
    for at in range(first, last):
        usual = out[(total >= total[at] - 1) & (total <= total[at] + LIKE_RANGE_DB) & (own >= own[at] - 1)]
        more += len(usual) >= LIKE_WINDOWS and out[at] > np.quantile(usual, LIKE_SHARE) + ABOVE_DB
    return 2 * more > last - first


def _paused(levels: Levels, first: int, last: int) -> bool:
    """Whether the input was silent as long, up to ten seconds earlier: an echo is silent then too."""
    from_there = max(0, first - levels.windows(MEMORY_S))
    pauses = _stretches(levels.total_in[from_there:last] < SOUND_DBFS, 1)
    return any(end - begin >= last - first - 2 for begin, end in pauses)


def _stretches(flags: Flags, apart: int) -> Iterator[tuple[int, int]]:
    """The runs of flagged windows, (first, one past the last), those less than `apart` windows apart together."""
    at = np.flatnonzero(flags)
    if not len(at):
        return
    cuts = np.flatnonzero(np.diff(at) > apart)
    for begin, end in zip([0, *(cuts + 1)], [*cuts, len(at) - 1], strict=True):
        yield int(at[begin]), int(at[end]) + 1


def _total(bands: Decibels) -> Decibels:
    found: Decibels = 10 * np.log10(np.sum(10 ** (bands / 10), axis=1))
    return found
