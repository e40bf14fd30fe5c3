"""Bypass at matched level: louder must not pass for better."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import signal

from sweeper.audio.format import AudioFormat
from sweeper.meter.k_weighting import k_filter

#: How much of what was heard counts, as short-term loudness does (EBU Tech 3341).
WINDOW_S = 3.0
#: Beyond this the two are not the same music any more.
MOST_DB = 40.0
#: How far below full scale the loudest sample stays.
ROOM_DB = 0.1
_SILENT = 1e-10  # mean square: -100 dB


@dataclass(frozen=True)
class Heard:
    """What a stage got and gave lately.

    filter: the K filter. memories: its memory for each of the two, (sections, channels, 2). powers: one (dry, wet)
    pair of sums of squares a block, and its frames. loudest_dry: the largest sample that the stage ever got.
    """

    rate_hz: int
    filter: np.ndarray
    memories: tuple[np.ndarray, np.ndarray]
    powers: tuple[tuple[float, float, int], ...]
    loudest_dry: float


def start(format: AudioFormat) -> Heard:
    """Nothing was heard yet."""
    memory = np.zeros((2, format.channels, 2))
    return Heard(format.rate_hz, k_filter(format.rate_hz), (memory, memory), (), 0.0)


def heard(before: Heard, dry: np.ndarray, wet: np.ndarray) -> Heard:
    """What was heard, with one more block of each: (channels, frames), equally long."""
    dry_power, dry_memory = _power(before.filter, before.memories[0], dry)
    wet_power, wet_memory = _power(before.filter, before.memories[1], wet)
    powers = (*before.powers, (dry_power, wet_power, dry.shape[1]))
    while sum(frames for _, _, frames in powers[1:]) >= WINDOW_S * before.rate_hz:
        powers = powers[1:]
    loudest = max(before.loudest_dry, float(np.abs(dry).max(initial=0.0)))
    return replace(before, memories=(dry_memory, wet_memory), powers=powers, loudest_dry=loudest)


def _power(filter: np.ndarray, memory: np.ndarray, block: np.ndarray) -> tuple[float, np.ndarray]:
    weighted, memory = signal.sosfilt(filter, block, axis=1, zi=memory)
    return float(np.square(weighted).sum()), memory


def bypass_gain_db(what: Heard) -> float:
    """The gain, in dB, that makes the bypassed stage's input as loud as its output over the last 3 s.

    Loudness is K-weighted power (ITU-R BS.1770-5), ungated. 0 dB while either is silent; at most 40 dB either way.
    """
    dry, wet = (sum(power[which] for power in what.powers) for which in (0, 1))
    frames = max(1, sum(frames for _, _, frames in what.powers))
    if min(dry, wet) / frames < _SILENT:
        return 0.0
    return float(np.clip(10.0 * np.log10(wet / dry), -MOST_DB, MOST_DB))


def headroom_db(what: Heard) -> float:
    """The gain, 0 dB or less, at which the matched input stays below full scale; for both, so that both stay alike."""
    if what.loudest_dry == 0.0:
        return 0.0
    return -max(0.0, float(20.0 * np.log10(what.loudest_dry)) + bypass_gain_db(what) + ROOM_DB)
