"""Where what was sent out lies in what came back, held against it from the beginning to the end. Runs in workers.

Roughly first, over a long stretch at a low rate, where another clock does no harm; then to the sample over short ones,
all along the music, near where it has to be. Places as long as `lining_up` takes would lose what ran on another clock.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from sweeper.audio import SoundFile, blocks
from sweeper.errors import AudioFileError
from sweeper.meter.alignment import Lag, exchanged, fine_lag, least_likeness, whole_lag
from sweeper.meter.grid import Doubles, Samples
from sweeper.meter.loudest import loudest_start, powers_of
from sweeper.render.lining_up import BLOCK_FRAMES, stretch
from sweeper.units import clock

#: How far off what comes back is looked for, either way; how much of it is held against what was sent, roughly at
#: about this rate, then to the sample.
MOST_OFF_S, HELD_S, ROUGH_RATE_HZ, FINE_S = 30.0, 10.0, 2000, 0.25
#: Below this likeness it is another music. Ours, tried on five pieces of music: another one stays under 0.14, the same
#: one saturated (tanh) by 18 dB over 0.2.
LEAST_LIKE = 0.2
#: How many stretches of the music are held against what came back, and the shortest of them.
STRETCHES, SHORTEST_S = 24, 1.0
#: A stretch so far below the loudest tells nothing, and a channel so far below both is silent (50 dB). Ours, not tried
#: otherwise.
QUIET = 1e-5
#: How far two clocks may be apart for the difference to be measured, and how far off they may lead.
MOST_OFF_CLOCK, MOST_DRIFT_S = 1e-3, 0.1
#: How much may be missing at the beginning or at the end before it is refused.
MOST_MISSING_S = 1.0
#: What is shorter than this share of what was sent, and like nothing in it, is refused for its length. Ours, not tried
#: otherwise.
TOO_SHORT = 0.9
#: Left and right are the other way round where they are so many times as like crossed as straight, or by `exchanged`.
#: Ours, tried on five pieces of music: all are told as they are, saturated by 18 dB one of them.
CLEARLY_CROSSED = 1.5
#: How far about one offset the next place is looked for, and each channel by itself.
APART_FRAMES = 64
#: An offset is recorded in steps of a 64th of a frame: what the rounding of the FFT leaves is below that.
STEPS_A_FRAME = 64
SIDES = ("left", "right")
WHOLE = "record it from the beginning to the end, and put it in the place of this one"


@dataclass(frozen=True)
class Whereabouts:
    """offset_frames: how much later what was sent lies in what came back, where the two are most alike.

    inverted: by channel, its polarity is turned over. drift_frames: by how much the offset changes.
    missing_head, missing_end: frames of the music that are not in it.
    """

    offset_frames: float
    inverted: tuple[bool, ...]
    drift_frames: float
    missing_head: int
    missing_end: int


@dataclass(frozen=True)
class _Found:
    """A short stretch of what was sent, from frame `place` on, and how much later it lies in what came back."""

    place: int
    offset_frames: float
    likeness: float


def whereabouts(sent: SoundFile, got: SoundFile, alive: Callable[[], None]) -> Whereabouts:
    """Hold what came back against what was sent. sent, got: of one rate, with the same channels.

    Raises AudioFileError, with the times, for what is not the music that was sent, or not whole.
    """
    anchor = _anchor(sent, got, alive)
    start = round(anchor.offset_frames)
    head, end = max(0, -start), max(0, start + sent.frames - got.frames)
    for missing, words in ((head, "it begins {} after the music does"), (end, "it ends {} before the music does")):
        if missing > MOST_MISSING_S * sent.format.rate_hz:
            raise AudioFileError(f"{got.path}: {words.format(clock(missing / sent.format.rate_hz))}", WHOLE)
    inverted = _inverted(sent, got, anchor)
    found = list(_all_along(sent, got, anchor, alive))
    _refuse_unlike(sent, got, [one.place for one in found if one.likeness < _least(sent)])
    offsets = [one.offset_frames for one in found] or [anchor.offset_frames]
    drift = max(offsets) - min(offsets)
    if drift > MOST_DRIFT_S * sent.format.rate_hz:
        raise AudioFileError(f"{got.path}: it runs off by {1000 * drift / sent.format.rate_hz:.0f} ms over its length",
                             "play and record on one clock, and put the new recording in its place")  # fmt: skip
    return Whereabouts(anchor.offset_frames, inverted, drift, head, end)


def _refuse_unlike(sent: SoundFile, got: SoundFile, places: Sequence[int]) -> None:
    if places:
        times = ", ".join(clock(place / sent.format.rate_hz) for place in places[:3])
        more = f" and {len(places) - 3} more places" if len(places) > 3 else ""
        raise AudioFileError(f"{got.path}: it is not what was sent out at {times}{more}",
                             "something else was playing, or nothing: record it again")  # fmt: skip


def _anchor(sent: SoundFile, got: SoundFile, alive: Callable[[], None]) -> _Found:
    """Where the two are most alike."""
    held = min(round(HELD_S * sent.format.rate_hz), max(1, sent.frames // 2))
    found: list[_Found] = []
    for place in _loud_places(sent, held):
        found.append(_closest(sent, got, place, held))
        alive()
    best = max(found, key=lambda one: one.likeness)
    if best.likeness >= _least(sent):
        return best
    if _is_silent(got):
        raise AudioFileError(f"{got.path}: it is silent", "check the way back, and record it again")
    if got.frames < TOO_SHORT * sent.frames:
        lasts, was = (clock(file.frames / file.format.rate_hz) for file in (got, sent))
        raise AudioFileError(f"{got.path}: it lasts {lasts}, and {was} was sent out; nothing in it is like that", WHOLE)
    raise AudioFileError(f"{got.path}: it is not like what was sent out ({sent.path.name})",
                         "is it the recording of another file? Put the right one in its place")  # fmt: skip


def _loud_places(sent: SoundFile, held: int) -> tuple[int, ...]:
    """Where the loudest stretches of the whole, of its first and of its last third begin."""
    third = sent.frames // 3
    spans = [(0, sent.frames), (0, max(third, held)), (max(0, sent.frames - max(third, held)), sent.frames)]
    return tuple(dict.fromkeys(loudest(sent, start, end, held) for start, end in spans))


def loudest(file: SoundFile, start: int, end: int, held: int) -> int:
    """Where the loudest `held` frames between two places begin, to an eighth of them."""
    step = max(1, held // 8)
    first = loudest_start(powers_of(blocks(file, step, start, end)), 8)
    return max(start, min(start + first * step, end - held))


def _closest(sent: SoundFile, got: SoundFile, place: int, held: int) -> _Found:
    """Where the loudest moment of the `held` frames of `sent` from `place` on lies in `got`."""
    rate_hz = sent.format.rate_hz
    slower = max(1, rate_hz // ROUGH_RATE_HZ)
    most = round(MOST_OFF_S * rate_hz) // slower * slower
    sought, around = stretch(sent, place, held), stretch(got, place - most, held + 2 * most)
    rough, _ = whole_lag(_slowed(sought, slower), _slowed(around, slower), most // slower)
    fine = min(held, round(FINE_S * rate_hz))
    middle = loudest(sent, place, min(sent.frames, place + held), fine)
    return _found(sent, got, middle, rough * slower - most, 4 * slower + round(MOST_OFF_CLOCK * held))


def _all_along(sent: SoundFile, got: SoundFile, anchor: _Found, alive: Callable[[], None]) -> Iterator[_Found]:
    """Loud moments all along the music, each near where it has to be."""
    fine = _fine(sent)
    places = [loudest(sent, start, end, fine) for start, end in _stretches(sent)]
    powers = [_power(stretch(sent, place, fine)) for place in places]
    near = round(anchor.offset_frames)
    for place, power in zip(places, powers, strict=True):
        around = APART_FRAMES + round(MOST_OFF_CLOCK * abs(place - anchor.place))
        there = place + near
        if power < QUIET * max(powers) or there < around or there + fine + around > got.frames:
            continue
        yield _found(sent, got, place, near, around)
        alive()


def _found(sent: SoundFile, got: SoundFile, place: int, near: int, around: int) -> _Found:
    """The short stretch from `place` on, looked for up to `around` frames about where it lies `near` frames later."""
    lag = fine_lag(*_both(sent, got, place, near, around))
    offset = near - around + lag.frames
    return _Found(place, round(offset * STEPS_A_FRAME) / STEPS_A_FRAME, lag.likeness)


def _both(sent: SoundFile, got: SoundFile, place: int, near: int, around: int) -> tuple[Samples, Samples]:
    fine = _fine(sent)
    return stretch(sent, place, fine), stretch(got, place + near - around, fine + 2 * around)


def _fine(sent: SoundFile) -> int:
    return min(sent.frames, round(FINE_S * sent.format.rate_hz))


def _least(sent: SoundFile) -> float:
    return least_likeness(_fine(sent), LEAST_LIKE)


def _power(samples: Samples) -> float:
    return float(np.square(samples, dtype=np.float64).mean())


def _stretches(sent: SoundFile) -> Sequence[tuple[int, int]]:
    many = int(min(STRETCHES, max(1, sent.frames / sent.format.rate_hz // SHORTEST_S)))
    edges = np.linspace(0, sent.frames, many + 1).astype(int)
    return [(int(start), int(end)) for start, end in itertools.pairwise(edges)]


def _inverted(sent: SoundFile, got: SoundFile, anchor: _Found) -> tuple[bool, ...]:
    """Which channels are turned over, where the two are most alike; one that cannot tell goes by the others.

    Raises AudioFileError for left and right the other way round, or one of them not there.
    """
    out, back = _both(sent, got, anchor.place, round(anchor.offset_frames), APART_FRAMES)
    if len(out) == 2:
        _refuse_wrong_channels(got, out, back)
    lags = [fine_lag(out[n : n + 1], back[n : n + 1]) for n in range(len(out))]
    return _polarity(lags)


def _polarity(lags: Sequence[Lag]) -> tuple[bool, ...]:
    told = [lag.inverted[0] if lag.likeness >= LEAST_LIKE else None for lag in lags]
    others = False not in told and True in told
    return tuple(others if one is None else one for one in told)


def _refuse_wrong_channels(got: SoundFile, out: Samples, back: Samples) -> None:
    alike = [[whole_lag(out[s : s + 1], back[g : g + 1])[1] for g in (0, 1)] for s in (0, 1)]
    crossed, straight = min(alike[0][1], alike[1][0]), max(alike[0][0], alike[1][1])
    if crossed > max(LEAST_LIKE, CLEARLY_CROSSED * straight) or exchanged(out, back):
        raise AudioFileError(f"{got.path}: left and right are the other way round", "swap them, and record it again")
    here = back[:, APART_FRAMES:-APART_FRAMES]
    for side, name in enumerate(SIDES):
        if _power(out[side]) > QUIET * _power(out) and _power(here[side]) < QUIET * _power(here):
            raise AudioFileError(f"{got.path}: the {name} channel is silent", "check the way back, and record it again")


def _slowed(samples: Samples, slower: int) -> Doubles:
    """The mean of every `slower` samples: a lower rate, with what is above it damped."""
    whole = samples.shape[1] // slower * slower
    means: Doubles = samples[:, :whole].reshape(len(samples), -1, slower).mean(axis=2, dtype=np.float64)
    return means


def _is_silent(file: SoundFile) -> bool:
    return all(not block.any() for block in blocks(file, BLOCK_FRAMES))
