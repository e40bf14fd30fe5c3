"""Correlation where it is worst: the 3 s in which left and right work most against each other."""

from __future__ import annotations

import numpy as np

from sweeper.meter import windows
from sweeper.meter.cells import Energies
from sweeper.meter.findings import SILENT_POWER, Finding, Findings, absent, found
from sweeper.meter.stereo import no_stereo
from sweeper.meter.windows import Windows

QUIET = "no 3 s of it are above -70 LUFS with both channels"


def finish(seen: Energies, heard: Windows) -> Findings:
    """correlation_worst: the lowest correlation of all 3 s windows at or above -70 LUFS, one every 100 ms.

    Each as `correlation` is of a whole file; windows in which a channel is silent have none. None under 3 s.
    Source: ours.
    """
    return {"correlation_worst": _lowest(seen, heard)}


def _lowest(seen: Energies, heard: Windows) -> Finding:
    if seen.format.channels != 2:
        return absent(no_stereo(seen.format))
    if heard.reason:
        return absent(heard.reason)
    steps = heard.powers.size + windows.STEPS - 1
    left, right, mid, side = windows.sums(seen.steps[:, :steps]) / windows.frames_in(seen.format.rate_hz, steps)
    taken = heard.heard & (left >= SILENT_POWER) & (right >= SILENT_POWER)
    if not taken.any():
        return absent(QUIET)
    across = (mid - side)[taken] / (4.0 * np.sqrt(left[taken]) * np.sqrt(right[taken]))
    return found(float(np.clip(across.min(), -1.0, 1.0)))
