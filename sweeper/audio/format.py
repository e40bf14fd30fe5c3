"""What a stretch of audio is, apart from its samples."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class AudioFormat:
    """channels: how many. rate_hz: frames per second.

    full_scale: the amplitude of the highest sample the file can hold: 1.0 for float files and lossy
    ones, (2^(n-1) - 1) / 2^(n-1) for n-bit integers. Samples are (channels, frames) everywhere.
    """

    channels: int
    rate_hz: int
    full_scale: float = 1.0
