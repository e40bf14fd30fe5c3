"""The 400 ms blocks that integrated loudness is gated by, each with its power and its sample peak; streaming."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from sweeper.audio.format import AudioFormat
from sweeper.meter import loudness
from sweeper.meter.grid import Doubles, Samples, carve, nothing

TENTHS_PER_S = 10
#: A block lasts four tenths of a second and one begins every tenth: BS.1770-5 Annex 1, 75 % overlap.
BLOCK_TENTHS = 4


@dataclass(frozen=True)
class Blocks:
    """What is known of each block. powers: K-weighted and summed over the channels, (blocks,), 10 log10 of it and
    `OFFSET_LUFS` is its loudness. peaks: the largest sample in it, (blocks,), 1.0 = 0 dBFS."""

    powers: Doubles
    peaks: Doubles


@dataclass(frozen=True)
class Seen:
    """What has been seen so far. peaks: of every whole tenth of a second. rest: the samples since."""

    loudness: loudness.Loudness
    peaks: tuple[Doubles, ...]
    rest: Samples


def start(format: AudioFormat) -> Seen:
    """The state before the first sample. Raises ValueError below 8000 Hz, or where a tenth is no whole frames."""
    if format.rate_hz % TENTHS_PER_S:
        raise ValueError(f"a tenth of a second is no whole number of frames at {format.rate_hz} Hz")
    return Seen(loudness.start(format), (), nothing(format.channels))


def advance(state: Seen, block: Samples) -> Seen:
    """The state after `block`, (channels, frames)."""
    step = state.loudness.format.rate_hz // TENTHS_PER_S
    whole, rest = carve(state.rest, block, step)
    peaks = np.abs(whole).max(axis=0).reshape(-1, step).max(axis=1).astype(np.float64)
    return replace(state, loudness=loudness.advance(state.loudness, block), peaks=(*state.peaks, peaks), rest=rest)


def finish(state: Seen) -> Blocks:
    """Every whole block of what was seen; a last incomplete one is not used (BS.1770-5 Annex 1)."""
    powers, _ = loudness.over_time(state.loudness)
    tenths = np.concatenate((*state.peaks, np.zeros(0)))
    count = max(min(powers.size, tenths.size - BLOCK_TENTHS + 1), 0)
    if not count:
        return Blocks(np.zeros(0), np.zeros(0))
    return Blocks(powers[:count], sliding_window_view(tenths, BLOCK_TENTHS).max(axis=1)[:count])
