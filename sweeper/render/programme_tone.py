"""A tone as loud as the programme: each plugin instance of a stage hears it at the RMS of its part of the music."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

import numpy as np

from sweeper.audio import AudioFormat
from sweeper.chain.model import Channels
from sweeper.host.routing import put_together, taken_apart
from sweeper.meter.harmonics import coherent_hz, tone
from sweeper.units import level_db


def heard_rms(sound: Iterable[np.ndarray], channels: Channels) -> dict[str, float]:
    """RMS, as an amplitude, of what each plugin instance of a stage hears of blocks of (channels, frames), by side."""
    squares, frames = dict.fromkeys(channels.sides, 0.0), 0
    for block in sound:
        frames += block.shape[1]
        heard = taken_apart(block, channels)
        for side in squares:
            squares[side] += float(np.square(heard[side], dtype=np.float64).mean(axis=0).sum())
    return {side: math.sqrt(each / max(1, frames)) for side, each in squares.items()}


def tone_for(levels: Mapping[str, float], near_hz: float, channels: Channels, format: AudioFormat,
             frames: int) -> np.ndarray:  # fmt: skip
    """A sine as a stage gets it, (channels, frames) float32. levels: RMS by side. near_hz: as in `coherent_hz`."""
    rate_hz = format.rate_hz
    wave = tone(coherent_hz(near_hz, rate_hz), 0.0, frames, rate_hz).astype(np.float32)[None]
    if channels is Channels.STEREO:
        return np.repeat(wave * np.float32(levels[""]), format.channels, axis=0)
    sides = ("left", "right") if channels is Channels.LEFT_RIGHT else ("mid", "side")
    return put_together({side: wave * np.float32(levels.get(side, 0.0)) for side in sides}, channels)


def level_dbfs(rms: float) -> float | None:
    """An RMS amplitude against digital full scale (a full-scale sine: -3.01 dBFS); None for silence."""
    return level_db(rms) if rms > 0 else None
