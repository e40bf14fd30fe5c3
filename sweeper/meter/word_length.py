"""Word length really used: the shortest integer word that holds every sample as it is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sweeper.audio.format import AudioFormat
from sweeper.meter.grid import Samples

#: The finest grid that is looked for; single precision holds no finer one at full scale.
MOST_BITS = 24


@dataclass(frozen=True)
class WordLength:
    """bits: every sample's word of MOST_BITS, or-ed. between: a sample lies between two steps of that grid."""

    bits: int
    between: bool


def start(format: AudioFormat) -> WordLength:
    """The state before the first sample."""
    return WordLength(0, False)


def advance(state: WordLength, block: Samples) -> WordLength:
    """The state after `block`, (channels, frames), 1.0 = full scale."""
    if state.between or not block.size:
        return state
    steps = np.abs(block.astype(np.float64)) * 2.0 ** (MOST_BITS - 1)
    whole = steps.astype(np.int64)
    if np.any(steps != whole):
        return WordLength(state.bits, True)
    return WordLength(state.bits | int(np.bitwise_or.reduce(whole, axis=None)), False)


def finish(state: WordLength) -> int | None:
    """How many bits a word needs, 1 to 24; None where samples lie between the steps of 24 bits.

    16-bit words in a 24-bit file need 16, or fewer. Silence needs 1. Source: definition.
    """
    if state.between:
        return None
    if not state.bits:
        return 1
    unused = (state.bits & -state.bits).bit_length() - 1
    return max(1, MOST_BITS - unused)
