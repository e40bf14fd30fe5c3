"""Correlation, side over mid, and balance of two channels."""

from __future__ import annotations

import math

from sweeper.audio.format import AudioFormat
from sweeper.meter.cells import Energies
from sweeper.meter.findings import EMPTY, SILENCE, SILENT_POWER, TWO_ONLY, Finding, Findings, absent, found

KEYS = ("correlation", "side_mid_db", "balance_db")


def finish(seen: Energies) -> Findings:
    """correlation, side_mid_db and balance_db of everything seen.

    correlation: sum of left * right over the root of their energies, constant offset included; +1 equal,
    -1 opposite, 0 unrelated; undefined with a silent channel. side_mid_db: energy of (L-R)/2 over (L+R)/2;
    0 dB with one silent channel, none when mid or side is silent. balance_db: right RMS over left.
    Source: definitions.
    """
    if seen.format.channels != 2:
        return dict.fromkeys(KEYS, absent(no_stereo(seen.format)))
    if not seen.frames:
        return dict.fromkeys(KEYS, absent(EMPTY))
    sums = seen.energies.sum(axis=1) / seen.frames
    left, right, mid, side = (float(energy) if energy >= SILENT_POWER else 0.0 for energy in sums)
    if not left and not right:
        return dict.fromkeys(KEYS, absent(SILENCE))
    dead = "the left channel is silent" if not left else "the right channel is silent"
    both = bool(left and right)
    return {
        "correlation": found(_correlation(left, right, mid, side)) if both else absent(dead),
        "side_mid_db": _side_over_mid(mid, side),
        "balance_db": found(10.0 * math.log10(right / left)) if both else absent(dead),
    }


def no_stereo(format: AudioFormat) -> str:
    """Why so many channels have no left and right."""
    return "one channel: no stereo to measure" if format.channels == 1 else TWO_ONLY


def _correlation(left: float, right: float, mid: float, side: float) -> float:
    across = (mid - side) / (4.0 * math.sqrt(left) * math.sqrt(right))
    return max(-1.0, min(1.0, across))


def _side_over_mid(mid: float, side: float) -> Finding:
    if not side:
        return absent("no side: left and right are the same")
    if not mid:
        return absent("no mid: left and right are opposite")
    return found(10.0 * math.log10(side / mid))
