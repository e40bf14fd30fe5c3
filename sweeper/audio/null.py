"""The null test: one sound file minus another."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import zip_longest

import numpy as np
from numpy.typing import NDArray

from sweeper.audio.files import Samples, SoundFile, blocks
from sweeper.audio.format import AudioFormat
from sweeper.errors import AudioFileError
from sweeper.units import level_db

BLOCK_FRAMES = 65536


@dataclass(frozen=True)
class Null:
    """What is left of one file when the other is taken from it.

    frames: of each. peak_dbfs, rms_dbfs: of what is left, over all samples of all channels of the longer file,
    where a full-scale square wave is 0 dBFS; None = silence. frame, channel, at_s: where the largest difference is,
    channels counted from 0; None for silence. first_s: where the first sample that differs is; None for silence.
    """

    frames: tuple[int, int]
    peak_dbfs: float | None
    rms_dbfs: float | None
    frame: int | None
    channel: int | None
    at_s: float | None
    first_s: float | None = None

    @property
    def identical(self) -> bool:
        """As long as each other, and sample for sample the same."""
        return self.peak_dbfs is None and self.frames[0] == self.frames[1]


@dataclass(frozen=True)
class _Left:
    """What was left up to a frame: its largest sample, where that is, the energy, and the first frame with any."""

    frames: int = 0
    peak: float = 0.0
    frame: int = 0
    channel: int = 0
    energy: float = 0.0
    first: int | None = None


def null_test(one: SoundFile, other: SoundFile) -> Null:
    """Take one file from another, in stretches. Where one has ended, silence is taken for it.

    Differences are formed in float64. Raises AudioFileError when rates or channels differ, or as `blocks` does.
    """
    ours = (one.format.channels, one.format.rate_hz)
    if ours != (other.format.channels, other.format.rate_hz):
        raise AudioFileError(f"{one.path.name} cannot be taken from {other.path.name}: {_kind(one)} and {_kind(other)}",
                             "compare files of one rate and as many channels")  # fmt: skip
    return null_of(_differences(one, other), (one.frames, other.frames), one.format)


def null_of(differences: Iterable[NDArray[np.float64]], frames: tuple[int, int], format: AudioFormat) -> Null:
    """The figures of a null test whose differences, (channels, frames), were formed elsewhere. frames: of each file."""
    left = _Left()
    for difference in differences:
        left = _added(left, difference)
    if left.peak == 0:
        return Null(frames, None, None, None, None, None)
    rms = math.sqrt(left.energy / (left.frames * format.channels))
    return Null(frames, level_db(left.peak), level_db(rms), left.frame, left.channel, left.frame / format.rate_hz,
                None if left.first is None else left.first / format.rate_hz)  # fmt: skip


def _kind(file: SoundFile) -> str:
    return f"{file.format.channels} channels at {file.format.rate_hz} Hz"


def _differences(one: SoundFile, other: SoundFile) -> Iterator[NDArray[np.float64]]:
    nothing: Samples = np.zeros((one.format.channels, 0), np.float32)
    for ours, theirs in zip_longest(blocks(one, BLOCK_FRAMES), blocks(other, BLOCK_FRAMES), fillvalue=nothing):
        frames = max(ours.shape[1], theirs.shape[1])
        yield _filled(ours, frames) - _filled(theirs, frames)


def _filled(block: Samples, frames: int) -> NDArray[np.float64]:
    filled = np.zeros((block.shape[0], frames))
    filled[:, : block.shape[1]] = block
    return filled


def _added(left: _Left, difference: NDArray[np.float64]) -> _Left:
    """What was left so far and the next stretch, together."""
    sizes = np.abs(difference)
    peak = float(sizes.max())
    first = left.first
    if peak > 0 and first is None:
        first = left.frames + int(np.argmax(sizes.max(axis=0) > 0))
    grown = replace(left, frames=left.frames + difference.shape[1], energy=left.energy + float(np.sum(difference**2)),
                    first=first)  # fmt: skip
    if peak <= left.peak:
        return grown
    frame = int(np.argmax(sizes.max(axis=0)))
    return replace(grown, peak=peak, frame=left.frames + frame, channel=int(np.argmax(sizes[:, frame])))
