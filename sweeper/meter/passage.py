"""Which stretch of a mix to look at closely: the loudest, in whole seconds; streaming, always the same one."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import scipy

from sweeper.audio.format import AudioFormat
from sweeper.meter.grid import Doubles, Samples, carve, nothing
from sweeper.meter.k_weighting import k_filter
from sweeper.meter.loudest import loudest_start

MOST_S = 60
SHORT_TERM_S = 3  # EBU Tech 3341 v4, section 2.2


@dataclass(frozen=True)
class Search:
    """What has been seen so far. memory: of the K filter. powers: of each second. rest: after the last second."""

    format: AudioFormat
    filter: Doubles
    memory: Doubles
    powers: tuple[float, ...]
    rest: Samples


def start(format: AudioFormat) -> Search:
    """The state before the first sample. Raises ValueError below 8000 Hz."""
    return Search(format, k_filter(format.rate_hz), np.zeros((2, format.channels, 2)), (), nothing(format.channels))


def advance(state: Search, block: Samples) -> Search:
    """The state after `block`, (channels, frames)."""
    rate_hz = state.format.rate_hz
    whole, rest = carve(state.rest, block, rate_hz)
    memory, powers = state.memory, list(state.powers)
    for at in range(0, whole.shape[1], rate_hz):
        heard, memory = scipy.signal.sosfilt(state.filter, whole[:, at : at + rate_hz], zi=memory)
        powers.append(float(np.square(heard).sum()))
    return replace(state, memory=memory, powers=tuple(powers), rest=rest)


def finish(state: Search, most_s: int = MOST_S) -> tuple[int, int]:
    """First and last (not included) frame of the passage, at most `most_s` whole seconds; everything, if it is shorter.

    Of the stretches that hold the loudest 3 s (K-weighted, in steps of a second) the loudest as a whole; the earliest
    of equals. K-weighting as in ITU-R BS.1770-5 Annex 1; the choice is ours.
    """
    frames = len(state.powers) * state.format.rate_hz + state.rest.shape[1]
    if frames <= most_s * state.format.rate_hz:
        return 0, frames
    powers = np.asarray(state.powers)
    short = min(SHORT_TERM_S, most_s)
    loudest = loudest_start(powers, short)
    first = max(0, loudest + short - most_s)
    begin = first + loudest_start(powers[first : loudest + most_s], most_s)
    return begin * state.format.rate_hz, (begin + most_s) * state.format.rate_hz
