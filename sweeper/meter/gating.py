"""From the powers of overlapping blocks to integrated loudness and loudness range."""

from __future__ import annotations

import math

import numpy as np

from sweeper.meter.findings import BEYOND, Finding, absent, found, level
from sweeper.meter.grid import Doubles

OFFSET_LUFS = -0.691  # BS.1770-5 Annex 1 eq. (2): cancels the gain of the K filter at 997 Hz
ABSOLUTE_GATE_LUFS = -70.0  # BS.1770-5 Annex 1 eq. (4); EBU Tech 3342 section 3.1
ABSOLUTE_GATE_POWER = 10.0 ** ((ABSOLUTE_GATE_LUFS - OFFSET_LUFS) / 10.0)
INTEGRATED_GATE = 0.1  # -10 LU, BS.1770-5 Annex 1 eq. (6)
RANGE_GATE = 0.01  # -20 LU, EBU Tech 3342 section 3.1
RANGE_LOW, RANGE_HIGH = 10, 95  # percentiles, EBU Tech 3342 section 3.1
STABLE_S = 60
NOT_STABLE = "shorter than 60 s: not yet stable (EBU Tech 3341 2.4)"
ALL_GATED = "nothing is louder than -70 LUFS"


def integrated(powers: Doubles, gated: str = ALL_GATED) -> Finding:
    """Integrated loudness, LUFS, of 400 ms block powers at 100 ms hops, shape (blocks,), weighted and summed.

    A 997 Hz sine at 0 dBFS in one front channel reads -3.01. Absent for `gated` when no block passes.
    Source: ITU-R BS.1770-5 Annex 1 eq. (4) to (7); both comparisons are strictly greater.
    """
    audible = powers[powers > ABSOLUTE_GATE_POWER]
    if not audible.size:
        return absent(gated)
    kept = audible[audible > INTEGRATED_GATE * audible.mean()]
    return level(float(kept.mean()), OFFSET_LUFS) if kept.size else absent(BEYOND)


def loudness_range(powers: Doubles, duration_s: float) -> Finding:
    """Loudness range, LU, of 3 s block powers at 100 ms hops, shape (blocks,), weighted and summed.

    duration_s: of the programme; under 60 s the finding says that the value is not yet stable.
    Source: EBU Tech 3342 v4 section 3.1 and its reference code: both gates at or above, no interpolation.
    """
    audible = powers[powers >= ABSOLUTE_GATE_POWER]
    if not audible.size:
        return absent(ALL_GATED)
    ranked = np.sort(audible[audible >= RANGE_GATE * audible.mean()])
    low, high = (float(ranked[_rank(ranked.size, percent)]) for percent in (RANGE_LOW, RANGE_HIGH))
    return found(10.0 * math.log10(high / low), NOT_STABLE if duration_s < STABLE_S else "")


def _rank(count: int, percent: int) -> int:
    return ((count - 1) * percent + 50) // 100  # rounds halves up, as the reference code does
