"""Trims, fades and silence of a print, in frames at its own rate."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sweeper.chain.print_model import Edits
from sweeper.errors import PrintError

Doubles = NDArray[np.float64]
#: What a compact disc is made of: 588 frames a block, 75 blocks a second (IEC 60908, from memory).
DISC_RATE_HZ, DISC_BLOCK_FRAMES = 44100, 588
SILENCE_FRAMES = 65536


@dataclass(frozen=True)
class Cut:
    """start, end: frames kept, the end not included. fade_in, fade_out: frames, inside of what is kept.

    silence: frames that follow what is kept.
    """

    start: int
    end: int
    fade_in: int
    fade_out: int
    silence: int = 0

    @property
    def kept(self) -> int:
        """How many frames are kept of the sound."""
        return self.end - self.start

    @property
    def frames(self) -> int:
        """How long it becomes, with the silence."""
        return self.kept + self.silence

    @property
    def words(self) -> str:
        """What is cut and faded, with frame counts; "" where nothing is."""
        fades = [
            f"{name} of {count} frames"
            for name, count in (("fade in", self.fade_in), ("fade out", self.fade_out), ("silence after", self.silence))
            if count
        ]
        return ", ".join(fades)


def cut_of(edits: Edits, frames: int, rate_hz: int) -> Cut:
    """The edits on a sound of so many frames. Raises PrintError where nothing would be left, or fades overlap."""
    start = round(edits.start_s * rate_hz)
    end = frames if edits.end_s is None else round(edits.end_s * rate_hz)
    lasts = f"the render lasts {frames / rate_hz:.3f} s"
    if end > frames:
        raise PrintError(f"the print is to end at {edits.end_s:g} s, and {lasts}", "name an earlier end, or none")
    if start >= end:
        raise PrintError(
            f"the print is to start at {edits.start_s:g} s, and nothing is left: {lasts}", "name an earlier start"
        )
    fade_in, fade_out = round(edits.fade_in_s * rate_hz), round(edits.fade_out_s * rate_hz)
    if fade_in + fade_out > end - start:
        raise PrintError(
            f"the fades take {fade_in + fade_out} frames, and {end - start} are printed", "make the fades shorter"
        )
    return Cut(start, end, fade_in, fade_out, silence_frames(end - start, edits.silence_s, rate_hz))


def silence_frames(frames: int, silence_s: float, rate_hz: int) -> int:
    """How much silence follows so many frames. At 44.1 kHz it is lengthened so that what comes next starts on a block
    of a disc, 1/75 s (IEC 60908); no silence at all stays none.
    """
    wanted = round(silence_s * rate_hz)
    if not wanted or rate_hz != DISC_RATE_HZ:
        return wanted
    return wanted + -(frames + wanted) % DISC_BLOCK_FRAMES


def edited(blocks: Iterable[Doubles], cut: Cut) -> Iterator[Doubles]:
    """What the cut keeps of a stream, (channels, frames), faded by raised cosines: half of a Hann window each; then
    its silence.
    """
    place = channels = 0
    for block in blocks:
        channels = block.shape[0]
        first, last = max(cut.start - place, 0), min(cut.end - place, block.shape[1])
        if first < last:
            kept = block[:, first:last]
            at = place + first - cut.start
            yield _faded(kept, at, cut)
        place += block.shape[1]
        if place >= cut.end:
            break
    for at in range(0, cut.silence, SILENCE_FRAMES):
        yield np.zeros((channels, min(SILENCE_FRAMES, cut.silence - at)))


def _faded(block: Doubles, at: int, cut: Cut) -> Doubles:
    """at: of the block's first frame in the print."""
    frames = np.arange(at, at + block.shape[1])
    if at < cut.fade_in:
        block = block * _rise(np.minimum(frames + 1, cut.fade_in + 1), cut.fade_in)
    if at + block.shape[1] > cut.kept - cut.fade_out and cut.fade_out:
        block = block * _rise(np.minimum(cut.kept - frames, cut.fade_out + 1), cut.fade_out)
    return block


def _rise(step: NDArray[np.int64], count: int) -> Doubles:
    """The gain at steps 1 to `count` of a fade; 1 beyond."""
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * step / (count + 1)))
