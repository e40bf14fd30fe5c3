"""Correlation, side over mid, and balance of two channels."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from sweeper.audio.format import AudioFormat
from sweeper.meter import compiled
from sweeper.meter.compiled import SUM_FRAMES
from sweeper.meter.findings import EMPTY, SILENCE, SILENT_POWER, TWO_ONLY, Finding, Findings, absent, found
from sweeper.meter.grid import Doubles, Samples, added, carve, nothing, padded, products

KEYS = ("correlation", "side_mid_db", "balance_db")


@dataclass(frozen=True)
class Stereo:
    """sums: (4,), energies of left, right, left + right and left - right up to `rest`."""

    format: AudioFormat
    frames: int
    sums: Doubles
    rest: Samples


def start(format: AudioFormat) -> Stereo:
    """The state before the first sample."""
    return Stereo(format, 0, np.zeros(4), nothing(format.channels))


def advance(state: Stereo, block: Samples) -> Stereo:
    """The state after `block`, (channels, frames). Does nothing unless there are two channels."""
    if state.format.channels != 2:
        return state
    whole, rest = carve(state.rest, block, SUM_FRAMES)
    sums = added(state.sums, _sums(whole))
    return replace(state, frames=state.frames + block.shape[1], sums=sums, rest=rest)


def finish(state: Stereo) -> Findings:
    """correlation, side_mid_db and balance_db of everything seen.

    correlation: sum of left * right over the root of their energies, constant offset included; +1 equal,
    -1 opposite, 0 unrelated; undefined with a silent channel. side_mid_db: energy of (L-R)/2 over (L+R)/2;
    0 dB with one silent channel, none when mid or side is silent. balance_db: right RMS over left.
    Source: definitions.
    """
    if state.format.channels != 2:
        why = "one channel: no stereo to measure" if state.format.channels == 1 else TWO_ONLY
        return dict.fromkeys(KEYS, absent(why))
    if not state.frames:
        return dict.fromkeys(KEYS, absent(EMPTY))
    sums = added(state.sums, _sums(padded(state.rest))) / state.frames
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


def _correlation(left: float, right: float, mid: float, side: float) -> float:
    across = (mid - side) / (4.0 * math.sqrt(left) * math.sqrt(right))
    return max(-1.0, min(1.0, across))


def _side_over_mid(mid: float, side: float) -> Finding:
    if not side:
        return absent("no side: left and right are the same")
    if not mid:
        return absent("no mid: left and right are opposite")
    return found(10.0 * math.log10(side / mid))


def _sums(whole: Samples) -> Doubles:
    loop = compiled.made(compiled.stereo_squares, whole.dtype)
    if loop is None:
        left, right = whole.astype(np.float64, order="C")
        mid, side = left + right, left - right
        return np.stack([products(channel, channel) for channel in (left, right, mid, side)])
    sums = np.empty((4, whole.shape[1] // SUM_FRAMES))
    loop(compiled.row(whole[0]), compiled.row(whole[1]), sums)
    return sums
