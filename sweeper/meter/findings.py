"""What a measurement found: a number, or in plain words why there is none."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

SILENT_POWER = 1e-60  # -600 dB: far under the smallest step of any word length; nothing that could be heard
SILENCE = "digital silence"
EMPTY = "no samples"
BEYOND = "beyond what can be measured"
TWO_ONLY = "measured for two channels only"


@dataclass(frozen=True)
class Finding:
    """value: None where it does not exist. reason: why, or what to keep in mind about the value."""

    value: float | None
    reason: str = ""


Findings = Mapping[str, Finding]


def found(value: float, remark: str = "") -> Finding:
    """A number, or an absent one when the arithmetic ran out of range."""
    if not math.isfinite(value):
        return Finding(None, BEYOND)
    return Finding(value, remark)


def absent(reason: str) -> Finding:
    """No number, and why."""
    return Finding(None, reason)


def level(power: float, offset_db: float = 0.0, silent: str = SILENCE) -> Finding:
    """A power as 10 log10 in dB plus `offset_db`; absent for `silent` when there is nothing."""
    if power < SILENT_POWER:
        return absent(silent)
    return found(10.0 * math.log10(power) + offset_db)


def peak_level(amplitude: float) -> Finding:
    """An amplitude as 20 log10 in dB (1.0 = 0 dB); absent for silence."""
    return level(amplitude * amplitude)
