"""Crest of the loud passages: what is left of the peaks where the music is loudest."""

from __future__ import annotations

import numpy as np

from sweeper.meter import windows
from sweeper.meter.cells import Energies
from sweeper.meter.findings import SILENCE, SILENT_POWER, Findings, absent, level
from sweeper.meter.grid import Doubles
from sweeper.meter.windows import Windows

NEAR_LU = 3.0


def finish(seen: Energies, sample_peaks: Doubles, heard: Windows) -> Findings:
    """crest_loud_db: sample peak over RMS, the median over the 3 s windows within 3 LU of the loudest.

    Windows every 100 ms; peak over all channels, RMS the power mean over them: sine 3.01, square 0. None under 3 s,
    in silence, and for channels that have no loudness. sample_peaks: of every 100 ms.
    Source: ours.
    """
    if heard.reason:
        return {"crest_loud_db": absent(heard.reason)}
    steps = heard.powers.size + windows.STEPS - 1
    channels = seen.format.channels
    energies = seen.steps[:channels, :steps].sum(axis=0)
    powers = windows.sums(energies) / (windows.frames_in(seen.format.rate_hz, steps) * channels)
    loud = (heard.powers >= heard.powers.max() * 10.0 ** (-NEAR_LU / 10.0)) & (powers >= SILENT_POWER)
    if not loud.any():
        return {"crest_loud_db": absent(SILENCE)}
    ratios = np.square(windows.maxima(sample_peaks[:steps]))[loud] / powers[loud]
    return {"crest_loud_db": level(float(10.0 ** np.median(np.log10(ratios))))}
