"""Noise floor: how quiet a stream is where it is quietest but not silent."""

from __future__ import annotations

import numpy as np

from sweeper.meter.cells import Energies
from sweeper.meter.findings import EMPTY, SILENCE, SILENT_POWER, Findings, absent, level

PERCENTILE = 5.0
TOO_SHORT = "shorter than 50 ms"


def finish(seen: Energies) -> Findings:
    """noise_floor_dbfs: the RMS of 50 ms that a twentieth of the stream does not exceed; re full scale 1.0.

    The 5th percentile, nearest rank, of whole windows of 50 ms that do not overlap; power mean over all channels.
    Windows of digital silence are left out. None when nothing else is there, or under 50 ms.
    Source: ours. Music without rests has its quiet passages measured, not its noise.
    """
    if not seen.complete:
        return {"noise_floor_dbfs": absent(TOO_SHORT if seen.frames else EMPTY)}
    channels = seen.format.channels
    powers = seen.energies[:channels, : seen.complete].sum(axis=0) / (np.diff(seen.edges) * channels)
    powers = np.sort(powers[powers >= SILENT_POWER])
    if not powers.size:
        return {"noise_floor_dbfs": absent(SILENCE)}
    return {"noise_floor_dbfs": level(float(powers[int((powers.size - 1) * PERCENTILE / 100.0 + 0.5)]))}
