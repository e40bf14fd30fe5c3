"""How the bass lies between left and right; streaming."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy

from sweeper.audio.format import AudioFormat
from sweeper.meter.grid import Doubles, Samples

#: Up to here it is bass: a fourth-order Butterworth low-pass. Common practice, no source.
BASS_HZ = 120.0


@dataclass(frozen=True)
class LowEnd:
    """memory: of the filter. energies: left squared, right squared, left times right. all: energy of the whole band."""

    filter: Doubles
    memory: Doubles
    energies: tuple[float, float, float]
    all: float


@dataclass(frozen=True)
class Bass:
    """correlation: -1 to 1. mono_loss_db: what is lost of it in (L+R)/2. share_db: its energy against the whole."""

    correlation: float
    mono_loss_db: float
    share_db: float


def start(format: AudioFormat) -> LowEnd:
    """The state before the first sample."""
    filter = scipy.signal.butter(4, BASS_HZ, fs=format.rate_hz, output="sos")
    return LowEnd(filter, np.zeros((len(filter), format.channels, 2)), (0.0, 0.0, 0.0), 0.0)


def advance(state: LowEnd, block: Samples) -> LowEnd:
    """The state after `block`, (channels, frames)."""
    if not block.shape[1]:
        return state
    heard, memory = scipy.signal.sosfilt(state.filter, block.astype(np.float64), axis=1, zi=state.memory)
    all = state.all + float(np.square(block, dtype=np.float64).sum())
    if len(heard) != 2:
        return LowEnd(state.filter, memory, state.energies, all)
    left, right = heard
    lefts, rights, across = state.energies
    energies = lefts + float(left @ left), rights + float(right @ right), across + float(left @ right)
    return LowEnd(state.filter, memory, energies, all)


def finish(state: LowEnd) -> Bass | None:
    """The bass of everything seen; None for anything but two channels, and where one of them has none.

    The same in both channels: 1 and 0 dB. Unrelated: 0 and 3.01 dB. Opposite: -1, and all is lost. Source: definitions.
    """
    lefts, rights, across = state.energies
    if min(lefts, rights) <= 1e-12 * max(state.all, 1e-30):
        return None
    mono = max((lefts + rights + 2 * across) / 2, 1e-12 * (lefts + rights))
    correlation = max(-1.0, min(1.0, across / math.sqrt(lefts * rights)))
    return Bass(correlation, 10 * math.log10((lefts + rights) / mono), 10 * math.log10((lefts + rights) / state.all))
