"""Tilt: the slope through the thirds of an octave."""

from __future__ import annotations

import numpy as np

from sweeper.meter import thirds
from sweeper.meter.findings import BEYOND, EMPTY, SILENCE, SILENT_POWER, Findings, absent, found
from sweeper.meter.thirds import Thirds

#: The bands that the slope is laid through: 50 Hz to 10 kHz.
FIRST, LAST = thirds.NOMINAL_HZ.index(50), thirds.NOMINAL_HZ.index(10000)
HIGHEST_HZ = float(thirds.EDGES_HZ[LAST + 1])


def finish(state: Thirds) -> Findings:
    """tilt_db: the slope of the third-octave levels, in dB a band (a third of an octave), of everything seen.

    The least-squares line through the 24 bands from 50 Hz to 10 kHz: pink noise 0, white noise +1, -1 where the level
    falls by 3 dB an octave more than pink noise does. None in silence, where a band holds nothing, and at rates
    under 22.5 kHz.
    Source: ours; bands by IEC 61260-1.
    """
    if not state.frames:
        return {"tilt_db": absent(EMPTY)}
    if state.format.rate_hz / 2 < HIGHEST_HZ:
        return {"tilt_db": absent(f"its bands go up to {HIGHEST_HZ:.0f} Hz, over half the rate")}
    bands = thirds.finish(state)
    powers = bands[FIRST : LAST + 1]
    if not np.isfinite(powers).all():
        return {"tilt_db": absent(BEYOND)}
    empty = np.flatnonzero(powers < SILENT_POWER)
    if empty.size:
        nominal_hz, silent = thirds.NOMINAL_HZ[FIRST + empty[0]], (bands < SILENT_POWER).all()
        return {"tilt_db": absent(SILENCE if silent else f"nothing in the band of {nominal_hz:g} Hz")}
    heights = 10.0 * np.log10(powers)
    steps = np.arange(heights.size) - (heights.size - 1) / 2.0
    return {"tilt_db": found(float(steps @ heights / (steps @ steps)))}
