"""Where one file lies in another that was made from it, and its samples from there; runs in workers."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace

import numpy as np

from sweeper.audio import SoundFile, blocks
from sweeper.meter.alignment import (
    AS_ALIKE,
    Alignment,
    Place,
    centre,
    exchanged,
    fine_lag,
    least_likeness,
    settled,
    whole_lag,
)
from sweeper.meter.fraction import REACH, earlier
from sweeper.meter.grid import Doubles, Samples

BLOCK_FRAMES = 65536
#: How much earlier or later B is looked for.
MOST_S = 30.0
#: Lags tried at a time: bounds the memory.
PIECE_S = 8.0
#: What is looked for, and what the offset is told from, at up to so many places.
SOUGHT_S = 4.0
PLACE_S = 2.0
PLACES = 9
#: How far a clock may have carried a place from where the sought one lies.
ASTRAY_S = 0.25
#: An offset this likely is taken, far over what unrelated music comes to (`LEAST_LIKENESS`); below, other passages are
#: tried too, up to so many in all. Ours, not tried otherwise.
SURE = 0.5
TRIED = 3


def alignment_of(one: SoundFile, other: SoundFile, beat: Callable[[], None]) -> Alignment | None:
    """How much later A (`one`) lies in B (`other`), up to 30 s either way; None where nothing alike is there.

    Told at up to nine places of two seconds. Raises AudioFileError as `blocks` does.
    """
    rate = one.format.rate_hz
    frames = min(one.frames, round(PLACE_S * rate))
    count = min(PLACES, 2 * one.frames // frames - 1)  # half of each over the next one where there are few
    starts = [round(at) for at in np.linspace(0, one.frames - frames, count)]
    nearby = _nearby(one, other, starts, frames, beat)
    if nearby is None:
        return None
    found_at, lag = nearby
    astray = round(ASTRAY_S * rate)

    def around(start: int) -> Samples:
        return stretch(other, start + lag - astray, frames + 2 * astray + 1)

    crossed = exchanged(stretch(one, found_at, frames), around(found_at))
    places = []
    for start in starts:
        beat()
        ours = stretch(one, start, frames)
        found = fine_lag(ours, around(start)[::-1] if crossed else around(start))
        places.append(Place((start + centre(ours)) / rate, lag - astray + found.frames, found))
    told = settled(places, rate, least_likeness(frames))
    return None if told is None else replace(told, exchanged=crossed)


def _nearby(one: SoundFile, other: SoundFile, starts: list[int], frames: int,
            beat: Callable[[], None]) -> tuple[int, int] | None:  # fmt: skip
    """The passage that is found likeliest, and its whole lag, the nearer of two alike; None where none is alike."""
    energies = {start: float(np.square(np.diff(stretch(one, start, frames))).sum()) for start in starts}
    found: list[tuple[float, int, int]] = []
    for start in sorted(starts, key=lambda at: -energies[at])[:TRIED]:
        likeness, lag = _likeliest(one, other, start, beat)
        found.append((likeness, start, lag))
        if found[-1][0] >= SURE:
            break
    likeness, start, lag = max(found)
    return (start, lag) if likeness >= least_likeness(frames) else None


def _likeliest(one: SoundFile, other: SoundFile, start: int, beat: Callable[[], None]) -> tuple[float, int]:
    rate = one.format.rate_hz
    start = max(0, min(start, one.frames - round(SOUGHT_S * rate)))
    sought = stretch(one, start, round(SOUGHT_S * rate))
    piece = round(PIECE_S * rate)
    edges = [round((n - 0.5) * PIECE_S * rate) for n in range(-round(MOST_S / PIECE_S), round(MOST_S / PIECE_S) + 1)]
    best = (0.0, 0)
    for least in sorted(edges, key=lambda edge: abs(edge + piece / 2)):
        beat()
        if start + least + piece + sought.shape[1] <= 0 or start + least >= other.frames:
            continue
        lag, likeness = whole_lag(sought, stretch(other, start + least, sought.shape[1] + piece - 1), -least)
        if likeness > best[0] + AS_ALIKE:
            best = (likeness, least + lag)
    return best


def stretch(file: SoundFile, start: int, frames: int) -> Samples:
    """(channels, frames) from frame `start` on; silence before the file begins and after it ends."""
    parts = list(stretches(file, start, start + frames))
    return np.concatenate(parts, axis=1) if parts else np.zeros((file.format.channels, 0), np.float32)


def stretches(file: SoundFile, start: int, end: int) -> Iterator[Samples]:
    """The samples from `start` to `end`, block by block, with silence where the file has none."""
    first, last = (min(max(0, at), file.frames) for at in (start, end))
    yield from _silence(file, min(end, 0) - start if start < 0 else 0)
    if first < last:
        yield from blocks(file, BLOCK_FRAMES, first, last)
    yield from _silence(file, end - max(start, file.frames) if end > file.frames else 0)


def _silence(file: SoundFile, frames: int) -> Iterator[Samples]:
    for at in range(0, frames, BLOCK_FRAMES):
        yield np.zeros((file.format.channels, min(BLOCK_FRAMES, frames - at)), np.float32)


def shifted(file: SoundFile, start: int, frames: int, fraction: float) -> Iterator[Samples]:
    """So many frames from `start` and a fraction of a frame (-1 to 1) on, block by block. 0.0: as they are."""
    if not fraction:
        yield from stretches(file, start, start + frames)
        return
    held: Samples = np.zeros((file.format.channels, 0), np.float32)
    for block in stretches(file, start - REACH, start + frames + REACH):
        held = np.concatenate((held, block), axis=1)
        if held.shape[1] > 2 * REACH:
            yield earlier(held, fraction)
            held = held[:, -2 * REACH :]


def side_by_side(one: Iterable[Samples], other: Iterable[Samples]) -> Iterator[tuple[Doubles, Doubles]]:
    """Two streams of as many frames in blocks of one size, in double precision."""
    for ours, theirs in zip(_cut(one), _cut(other), strict=True):
        yield ours.astype(np.float64), theirs.astype(np.float64)


def _cut(parts: Iterable[Samples]) -> Iterator[Samples]:
    held: Samples | None = None
    for part in parts:
        held = part if held is None else np.concatenate((held, part), axis=1)
        while held.shape[1] >= BLOCK_FRAMES:
            yield held[:, :BLOCK_FRAMES]
            held = held[:, BLOCK_FRAMES:]
    if held is not None and held.shape[1]:
        yield held
