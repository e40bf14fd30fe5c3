"""Where what was sent out lies in what came back, held against it from the beginning to the end. Runs in workers.

Roughly first, over a long stretch at a low rate, where another clock does no harm; then to the sample over short ones,
all along the music, near where it has to be.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from sweeper.audio import SoundFile, blocks
from sweeper.errors import AudioFileError
from sweeper.meter.loudest import loudest_start, powers_of
from sweeper.meter.offset import Offset, offset_of
from sweeper.units import clock

#: How far off what comes back is looked for, either way; how much of it is held against what was sent, roughly at
#: about this rate, then to the sample.
MOST_OFF_S, HELD_S, ROUGH_RATE_HZ, FINE_S = 30.0, 10.0, 2000, 0.25
#: Below this likeness it is another music. A chain of heavy EQ and saturation stays well above it.
LEAST_LIKE = 0.2
#: How many stretches of the music are held against what came back, and the shortest of them.
STRETCHES, SHORTEST_S = 24, 1.0
#: A stretch so far below the loudest tells nothing.
QUIET = 1e-5
#: How far two clocks may be apart for the difference to be measured, and how far off they may lead.
MOST_OFF_CLOCK, MOST_DRIFT_S = 1e-3, 0.1
#: How much may be missing at the beginning or at the end before it is refused.
MOST_MISSING_S = 1.0
WHOLE = "record it from the beginning to the end, and put it in the place of this one"
_BLOCK_FRAMES = 65536


@dataclass(frozen=True)
class Whereabouts:
    """offset: of what was sent in what came back, where the two are most alike. drift_frames: by how much it changes.

    missing_head, missing_end: frames of the music that are not in it.
    """

    offset: Offset
    drift_frames: float
    missing_head: int
    missing_end: int


def whereabouts(sent: SoundFile, got: SoundFile, alive: Callable[[], None]) -> Whereabouts:
    """Hold what came back against what was sent. sent, got: of one rate, with the same channels.

    Raises AudioFileError, with the times, for what is not the music that was sent, or not whole.
    """
    anchor, at = _anchor(sent, got, alive)
    start = round(anchor.frames)
    head, end = max(0, -start), max(0, start + sent.frames - got.frames)
    for missing, words in ((head, "it begins {} after the music does"), (end, "it ends {} before the music does")):
        if missing > MOST_MISSING_S * sent.format.rate_hz:
            raise AudioFileError(f"{got.path}: {words.format(clock(missing / sent.format.rate_hz))}", WHOLE)
    _refuse_wrong_channels(sent, got, at, start)
    found = list(_all_along(sent, got, anchor, at, alive))
    unlike = [place for place, offset in found if offset.likeness < LEAST_LIKE]
    if unlike:
        times = ", ".join(clock(place / sent.format.rate_hz) for place in unlike[:3])
        more = f" and {len(unlike) - 3} more places" if len(unlike) > 3 else ""
        raise AudioFileError(f"{got.path}: it is not what was sent out at {times}{more}",
                             "something else was playing, or nothing: record it again")  # fmt: skip
    offsets = [offset.frames for _, offset in found] or [anchor.frames]
    drift = max(offsets) - min(offsets)
    if drift > MOST_DRIFT_S * sent.format.rate_hz:
        raise AudioFileError(f"{got.path}: it runs off by {1000 * drift / sent.format.rate_hz:.0f} ms over its length",
                             "play and record on one clock, and put the new recording in its place")  # fmt: skip
    return Whereabouts(anchor, drift, head, end)


def _anchor(sent: SoundFile, got: SoundFile, alive: Callable[[], None]) -> tuple[Offset, int]:
    """The offset where the two are most alike, and where in what was sent that is."""
    held = min(round(HELD_S * sent.format.rate_hz), max(1, sent.frames // 2))
    found: list[tuple[Offset, int]] = []
    for place in _loud_places(sent, held):
        found.append(_offset_at(sent, got, place, held))
        alive()
    best = max(found, key=lambda one: one[0].likeness)
    if best[0].likeness >= LEAST_LIKE:
        return best
    if _is_silent(got):
        raise AudioFileError(f"{got.path}: it is silent", "check the way back, and record it again")
    if got.frames < 0.9 * sent.frames:
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


def _offset_at(sent: SoundFile, got: SoundFile, place: int, held: int) -> tuple[Offset, int]:
    """Where the stretch of `sent` from `place` on lies in `got`, and where in it the closest look was taken."""
    rate_hz = sent.format.rate_hz
    slower = max(1, rate_hz // ROUGH_RATE_HZ)
    most = round(MOST_OFF_S * rate_hz)
    rough = _offset_in(sent, got, place, held, -most, most, slower)
    fine, near = min(held, round(FINE_S * rate_hz)), round(rough.frames)
    middle = loudest(sent, place, min(sent.frames, place + held), fine)
    around = 4 * slower + round(MOST_OFF_CLOCK * held)
    return _offset_in(sent, got, middle, fine, near - around, near + around, 1), middle


def _all_along(sent: SoundFile, got: SoundFile, anchor: Offset, at: int,
               alive: Callable[[], None]) -> Iterator[tuple[int, Offset]]:  # fmt: skip
    """(a place, the offset there) for loud moments all along the music, each near where it has to be."""
    fine = min(sent.frames, round(FINE_S * sent.format.rate_hz))
    places = [loudest(sent, start, end, fine) for start, end in _stretches(sent)]
    powers = [float((_read(sent, place, place + fine) ** 2).mean()) for place in places]
    for place, power in zip(places, powers, strict=True):
        around = 64 + round(MOST_OFF_CLOCK * abs(place - at))
        there = place + round(anchor.frames)
        if power < QUIET * max(powers) or there < around or there + fine + around > got.frames:
            continue
        near = round(anchor.frames)
        yield place, _offset_in(sent, got, place, fine, near - around, near + around, 1)
        alive()


def _stretches(sent: SoundFile) -> Sequence[tuple[int, int]]:
    many = int(min(STRETCHES, max(1, sent.frames / sent.format.rate_hz // SHORTEST_S)))
    edges = np.linspace(0, sent.frames, many + 1).astype(int)
    return [(int(start), int(end)) for start, end in itertools.pairwise(edges)]


def _refuse_wrong_channels(sent: SoundFile, got: SoundFile, at: int, start: int) -> None:
    """Left and right the other way round, or one of them not there."""
    fine = min(sent.frames, round(FINE_S * sent.format.rate_hz))
    if sent.format.channels != 2 or at + start < 0 or at + start + fine > got.frames:
        return
    out, back = _read(sent, at, at + fine), _read(got, at + start, at + start + fine)
    alike = [[offset_of(out[s : s + 1], back[g : g + 1], -64, 64).likeness for g in (0, 1)] for s in (0, 1)]
    crossed, straight = min(alike[0][1], alike[1][0]), max(alike[0][0], alike[1][1])
    if crossed > max(LEAST_LIKE, 1.5 * straight):
        raise AudioFileError(f"{got.path}: left and right are the other way round", "swap them, and record it again")
    for side, name in enumerate(("left", "right")):
        if (out[side] ** 2).mean() > QUIET * (out**2).mean() and (back[side] ** 2).mean() < QUIET * (back**2).mean():
            raise AudioFileError(f"{got.path}: the {name} channel is silent", "check the way back, and record it again")


def _offset_in(sent: SoundFile, got: SoundFile, place: int, held: int, least: int, most: int, slower: int) -> Offset:
    """The offset of a stretch, looked for from `least` to `most` frames; at a rate that many times slower."""
    first, last = max(0, place + least), min(got.frames, place + held + most)
    one = _slowed(_read(sent, place, min(sent.frames, place + held)), slower)
    if last - first < slower * one.shape[1] // 2 or one.shape[1] < 2:
        return Offset(0.0, 0.0, False)
    other, moved = _slowed(_read(got, first, last), slower), first - place
    offset = offset_of(one, other, (least - moved) // slower, (most - moved) // slower)
    return Offset(offset.frames * slower + moved, offset.likeness, offset.inverted)


def _slowed(samples: np.ndarray, slower: int) -> np.ndarray:
    """The mean of every `slower` samples: a lower rate, with what is above it damped."""
    whole = samples.shape[1] // slower * slower
    means: np.ndarray = samples[:, :whole].reshape(len(samples), -1, slower).mean(axis=2)
    return means


def _is_silent(file: SoundFile) -> bool:
    return all(not block.any() for block in blocks(file, _BLOCK_FRAMES))


def _read(file: SoundFile, start: int, end: int) -> np.ndarray:
    return np.concatenate(list(blocks(file, _BLOCK_FRAMES, start, end)), axis=1)
