"""Sample peak, overs, RMS and crest, all channels together."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sweeper.audio.format import AudioFormat
from sweeper.meter.cells import Energies
from sweeper.meter.findings import EMPTY, SILENCE, Findings, absent, found, level, peak_level
from sweeper.meter.grid import Samples


@dataclass(frozen=True)
class Levels:
    """What has been seen so far."""

    format: AudioFormat
    peak: float
    overs: int


def start(format: AudioFormat) -> Levels:
    """The state before the first sample."""
    return Levels(format, 0.0, 0)


def advance(state: Levels, block: Samples) -> Levels:
    """The state after `block`, (channels, frames)."""
    if not block.shape[1]:
        return state
    peak = float(max(block.max(), -block.min()))
    full_scale = state.format.full_scale
    overs = int(np.count_nonzero(np.abs(block) >= full_scale)) if peak >= full_scale else 0
    return replace(state, peak=max(state.peak, peak), overs=state.overs + overs)


def finish(state: Levels, seen: Energies) -> Findings:
    """sample_peak_dbfs, rms_dbfs, crest_db and overs of everything seen; seen: the energies of the same stream.

    Peak and RMS are re digital full scale 1.0: a full-scale square wave reads 0 and 0, a sine 0 and -3.01
    (AES17 would add 3.01 to the RMS). Crest is sample peak over RMS: sine 3.01, square 0. RMS is the power
    mean over all channels. Overs are samples at or above the highest value the file can hold, each counted.
    Silence has no peak, RMS or crest; no samples, no overs.
    Source: definitions; trade convention for overs.
    """
    if not seen.frames:
        return {"sample_peak_dbfs": absent(EMPTY), "rms_dbfs": absent(EMPTY), "crest_db": absent(EMPTY),
                "overs": found(0)}  # fmt: skip
    peak = peak_level(state.peak)
    rms = level(float(seen.energies[: state.format.channels].sum()) / (seen.frames * state.format.channels))
    crest = absent(SILENCE)
    if peak.value is not None and rms.value is not None:
        crest = found(peak.value - rms.value)
    return {"sample_peak_dbfs": peak, "rms_dbfs": rms, "crest_db": crest, "overs": found(state.overs)}
