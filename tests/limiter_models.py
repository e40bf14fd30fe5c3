"""Limiters as arithmetic, to try a solver on thousands of them: loudness and true peak from two settings.

Music is a row of 400 ms blocks with a loudness and a peak each; integrated loudness is gated as ITU-R BS.1770-5 says.
How a block is limited is our own invention, shaped after what real limiters were seen to do: a decibel a decibel at
first, less and less when driven, and a true peak some tenths of a dB over the ceiling, more when driven more.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np


@dataclass(frozen=True)
class Music:
    """Blocks of music before the limiter: loudness in LUFS and peak in dBTP of each."""

    loudness_lufs: np.ndarray
    peak_dbtp: np.ndarray


def music(rng: np.random.Generator, blocks: int = 300) -> Music:
    """A track as it may come from a mix: -26 to -14 LUFS, quiet and loud parts, peaks 9 to 16 dB above the loudness."""
    parts = np.repeat(rng.normal(0, rng.uniform(0.5, 5.0), blocks // 30), 30)
    loudness = rng.uniform(-26, -14) + np.minimum(parts, 4.0) + rng.normal(0, rng.uniform(0.3, 2.0), blocks)
    peak = np.minimum(loudness + rng.uniform(9, 16) + rng.normal(0, 1.5, blocks), rng.uniform(-6, 0))
    return Music(loudness, peak)


def integrated(blocks_lufs: np.ndarray) -> float:
    """Gated loudness of blocks: -70 LUFS, then 10 LU below the mean of the rest (ITU-R BS.1770-5)."""
    heard = blocks_lufs[blocks_lufs >= -70]
    if not heard.size:
        return -math.inf
    gate = _mean(heard) - 10
    return _mean(heard[heard >= gate])


def _mean(blocks_lufs: np.ndarray) -> float:
    return float(10 * np.log10(np.mean(10 ** (blocks_lufs / 10))))


@dataclass(frozen=True)
class Limiter:
    """A limiter on some music. made_up: it raises what it limited up to the ceiling, as one with a threshold does.

    densest_db: the least crest that a block is limited to. knee_db: how gently it comes to that. overshoot_db: of the
    true peak over the ceiling, when driven hard. noise_db: what two renders at nearly the same settings may differ by.
    """

    music: Music
    made_up: bool = False
    densest_db: float = 7.0
    knee_db: float = 2.0
    overshoot_db: float = 0.5
    noise_db: float = 0.0
    track: float = field(default=1.0)

    def loudness(self, drive_db: float, ceiling_db: float) -> float:
        """Integrated loudness, LUFS."""
        into, onto = self._places(ceiling_db)
        driven = self.music.loudness_lufs + drive_db
        most = into - self.densest_db
        peaks = self.music.peak_dbtp + drive_db
        limited = driven - self.knee_db * np.log1p(np.exp((driven - most) / self.knee_db))
        out = np.where(peaks > into, limited, driven)
        blend = np.clip((peaks - into) / 6, 0, 1)
        return integrated(driven + blend * (out - driven) + onto) + self._chance(drive_db, ceiling_db)

    def true_peak(self, drive_db: float, ceiling_db: float) -> float:
        """True peak, dBTP."""
        into, onto = self._places(ceiling_db)
        peak = float(self.music.peak_dbtp.max()) + drive_db
        depth = max(0.0, peak - into)
        over = self.overshoot_db * (0.4 + 0.6 * (1 - math.exp(-depth / 6)))
        return min(peak, into + over) + onto + self._chance(ceiling_db, drive_db)

    def _places(self, ceiling_db: float) -> tuple[float, float]:
        return (0.0, ceiling_db) if self.made_up else (ceiling_db, 0.0)

    def _chance(self, one: float, other: float) -> float:
        return self.noise_db * math.sin(1e4 * one + 3e4 * other + self.track)


def any_limiter(rng: np.random.Generator) -> Limiter:
    """One of the limiters that there may be, on some music."""
    return Limiter(music(rng), bool(rng.integers(2)), rng.uniform(5, 10), rng.uniform(0.5, 3.0), rng.uniform(0.2, 0.9),
                   float(rng.choice([0.0, 0.01])), rng.uniform(0, 6))  # fmt: skip
