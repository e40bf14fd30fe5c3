"""Overs as runs: how many times a channel touches full scale, and the longest time it stays there; streaming."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from sweeper.audio.format import AudioFormat
from sweeper.meter.findings import Findings, found
from sweeper.meter.grid import Samples


@dataclass(frozen=True)
class Overs:
    """runs: how many have begun. longest: frames. open: (channels,), how long the run is that each channel is in."""

    format: AudioFormat
    runs: int
    longest: int
    open: npt.NDArray[np.int64]


def start(format: AudioFormat) -> Overs:
    """The state before the first sample."""
    return Overs(format, 0, 0, np.zeros(format.channels, np.int64))


def advance(state: Overs, block: Samples) -> Overs:
    """The state after `block`, (channels, frames)."""
    if not block.shape[1]:
        return state
    if max(block.max(), -block.min()) < state.format.full_scale:
        return replace(state, open=np.zeros_like(state.open)) if state.open.any() else state
    runs, longest, still = state.runs, state.longest, np.zeros_like(state.open)
    for channel, samples in enumerate(block):
        touching = np.concatenate(([False], np.abs(samples) >= state.format.full_scale, [False]))
        begins, ends = np.flatnonzero(np.diff(touching)).reshape(-1, 2).T
        lengths = ends - begins
        if lengths.size and begins[0] == 0:
            runs -= int(state.open[channel] > 0)
            lengths[0] += state.open[channel]
        if lengths.size and ends[-1] == samples.size:
            still[channel] = lengths[-1]
        runs, longest = runs + lengths.size, max(longest, int(lengths.max(initial=0)))
    return Overs(state.format, runs, longest, still)


def finish(state: Overs) -> Findings:
    """over_runs and longest_over_ms of everything seen.

    A run is one or more samples in a row of one channel at or above the highest value the file can hold; each channel
    has its own. One sample at 48 kHz lasts 0.021 ms. None touching, silence and no samples: 0 and 0.
    Source: trade convention.
    """
    return {"over_runs": found(state.runs), "longest_over_ms": found(1000.0 * state.longest / state.format.rate_hz)}
