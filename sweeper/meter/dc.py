"""DC: the level of what a channel is offset by."""

from __future__ import annotations

import numpy as np

from sweeper.meter.cells import Energies
from sweeper.meter.findings import EMPTY, Findings, absent, level

CENTRED = "no constant offset at all"


def finish(seen: Energies) -> Findings:
    """dc_dbfs: the mean of all samples, its magnitude, of the channel where it is highest; re full scale 1.0.

    A constant 0.5 reads -6.02. Music lies far under -60; none where the samples add up to nothing, as in silence.
    Source: definition.
    """
    if not seen.frames:
        return {"dc_dbfs": absent(EMPTY)}
    highest = float(np.abs(seen.totals).max()) / seen.frames
    return {"dc_dbfs": level(highest * highest, silent=CENTRED)}
