"""Bypass at matched level: louder must not pass for better."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy import signal

from sweeper.audio.format import AudioFormat
from sweeper.meter.k_weighting import k_filter

#: How much of what was heard counts, as short-term loudness does (EBU Tech 3341).
WINDOW_S = 3.0
#: Beyond this the two are not the same music any more. Ours, not tried otherwise.
MOST_DB = 40.0
#: How far below full scale the loudest sample stays. Ours, not tried otherwise.
ROOM_DB = 0.1
#: The mean square below which nothing is matched: -100 dB. Ours, not tried otherwise.
_SILENT = 1e-10


@dataclass(frozen=True)
class _Block:
    """dry, wet: sums of the squares of the K-weighted samples. wet_peak: the largest sample of the wet sound."""

    dry: float
    wet: float
    wet_peak: float
    frames: int


@dataclass(frozen=True)
class Heard:
    """What a stage got and gave lately.

    filter: the K filter. memories: its memory for each of the two, (sections, channels, 2). blocks: the last 3 s.
    loudest_dry: the largest sample that the stage ever got.
    """

    rate_hz: int
    filter: np.ndarray
    memories: tuple[np.ndarray, np.ndarray]
    blocks: tuple[_Block, ...]
    loudest_dry: float


def start(format: AudioFormat) -> Heard:
    """Nothing was heard yet."""
    memory = np.zeros((2, format.channels, 2))
    return Heard(format.rate_hz, k_filter(format.rate_hz), (memory, memory), (), 0.0)


def heard(before: Heard, dry: np.ndarray, wet: np.ndarray) -> Heard:
    """What was heard, with one more block of each: (channels, frames), equally long."""
    dry_power, dry_memory = _power(before.filter, before.memories[0], dry)
    wet_power, wet_memory = _power(before.filter, before.memories[1], wet)
    blocks = (*before.blocks, _Block(dry_power, wet_power, _peak(wet), dry.shape[1]))
    while sum(block.frames for block in blocks[1:]) >= WINDOW_S * before.rate_hz:
        blocks = blocks[1:]
    loudest = max(before.loudest_dry, _peak(dry))
    return replace(before, memories=(dry_memory, wet_memory), blocks=blocks, loudest_dry=loudest)


def _power(filter: np.ndarray, memory: np.ndarray, block: np.ndarray) -> tuple[float, np.ndarray]:
    weighted, memory = signal.sosfilt(filter, block, axis=1, zi=memory)
    return float(np.square(weighted).sum()), memory


def _peak(block: np.ndarray) -> float:
    return float(np.abs(block).max(initial=0.0))


def bypass_gain_db(what: Heard) -> float:
    """The gain, in dB, that makes the bypassed stage's input as loud as its output over the last 3 s.

    Loudness is K-weighted power (ITU-R BS.1770-5), ungated. 0 dB while either is silent; at most 40 dB either way.
    """
    dry, wet = sum(block.dry for block in what.blocks), sum(block.wet for block in what.blocks)
    frames = max(1, sum(block.frames for block in what.blocks))
    if min(dry, wet) / frames < _SILENT:
        return 0.0
    return float(np.clip(10.0 * np.log10(wet / dry), -MOST_DB, MOST_DB))


def headroom_db(what: Heard) -> float:
    """The gain, 0 dB or less, at which the matched input and the output stay below full scale; the same for both, so
    that both stay alike."""
    wet_peak = max((block.wet_peak for block in what.blocks), default=0.0)
    return -max(0.0, _dbfs(what.loudest_dry) + bypass_gain_db(what) + ROOM_DB, _dbfs(wet_peak) + ROOM_DB)


def _dbfs(peak: float) -> float:
    return 20.0 * math.log10(peak) if peak else -math.inf
