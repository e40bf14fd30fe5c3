"""Two stages in a row as arithmetic, to try a solver of three settings on hundreds of them.

The last stage is a limiter with a ceiling (`limiter_models`). Either a compressor stands before it, driven by its input
trim, whose attenuation is asked for; or a clipper, whose drive makes it louder, while it is the attenuation of the
limiter itself that is asked for, by its input trim. The shapes are our own; ratios, knees and crests are common
practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from limiter_models import Limiter, Music, music

Levels = tuple[float, float, float]


@dataclass(frozen=True)
class Compressor:
    """What a compressor leaves of some music. threshold_lufs: of a block's loudness; knee_db: how wide its bend is."""

    music: Music
    limiter: Limiter
    threshold_lufs: float
    ratio: float = 2.0
    knee_db: float = 3.0

    def levels(self, drive_db: float, ceiling_db: float, trim_db: float) -> Levels:
        """Loudness (LUFS) and true peak (dBTP) of the whole; attenuation of the compressor, dB.

        drive_db, ceiling_db: of the limiter. trim_db: the compressor's input trim, nothing made up behind it.
        """
        loudness, peak = self.music.loudness_lufs + trim_db, self.music.peak_dbtp + trim_db
        over = self.knee_db * np.log1p(np.exp((loudness - self.threshold_lufs) / self.knee_db))
        less = (1 - 1 / self.ratio) * over
        last = replace(self.limiter, music=Music(loudness - less, peak - less))
        return last.loudness(drive_db, ceiling_db), last.true_peak(drive_db, ceiling_db), _most_of(less, loudness)


@dataclass(frozen=True)
class Clipper:
    """A clipper before a limiter. threshold_dbtp: of a block's peak; knee_db: how wide its bend is.

    kept: how much of the loudness of a block goes with what is clipped of its peak.
    """

    music: Music
    limiter: Limiter
    threshold_dbtp: float
    knee_db: float = 1.0
    kept: float = 0.15

    def levels(self, drive_db: float, ceiling_db: float, trim_db: float) -> Levels:
        """Loudness (LUFS) and true peak (dBTP) of the whole; attenuation of the limiter, dB.

        drive_db: of the clipper. trim_db: the limiter's input trim.
        """
        loudness, peak = self.music.loudness_lufs + drive_db, self.music.peak_dbtp + drive_db
        clipped = self.knee_db * np.log1p(np.exp((peak - self.threshold_dbtp) / self.knee_db))
        loudness, peak = loudness - self.kept * clipped, peak - clipped
        threshold_db = 0.0 if self.limiter.made_up else ceiling_db
        less = np.log1p(np.exp(peak + trim_db - threshold_db))
        last = replace(self.limiter, music=Music(loudness, peak))
        return last.loudness(trim_db, ceiling_db), last.true_peak(trim_db, ceiling_db), _most_of(less, loudness)


def _most_of(attenuation_db: np.ndarray, loudness: np.ndarray) -> float:
    """The attenuation that 95 % of the louder half of the blocks stay below."""
    return float(np.percentile(attenuation_db[loudness >= np.median(loudness)], 95))


def any_chain(rng: np.random.Generator, clips: bool) -> Compressor | Clipper:
    """One of the chains that there may be, on some music."""
    sound = music(rng)
    limiter = Limiter(sound, bool(rng.integers(2)), rng.uniform(5, 8), rng.uniform(0.5, 3.0), rng.uniform(0.2, 0.9),
                      float(rng.choice([0.0, 0.01])), rng.uniform(0, 6))  # fmt: skip
    if clips:
        threshold = float(np.percentile(sound.peak_dbtp, rng.uniform(50, 98)))
        return Clipper(sound, limiter, threshold, rng.uniform(0.3, 2.0), rng.uniform(0.05, 0.3))
    threshold = float(np.percentile(sound.loudness_lufs, rng.uniform(40, 98)))
    return Compressor(sound, limiter, threshold, rng.uniform(1.5, 4.0), rng.uniform(1.0, 6.0))


@dataclass(frozen=True)
class Dialled:
    """A chain, where its three settings have to go, what it measures there, and where they stand at first."""

    chain: Compressor | Clipper
    there: Levels
    goals: Levels
    start: Levels
    slopes: Levels


def any_dialled(rng: np.random.Generator, clips: bool, off_db: tuple[float, float, float]) -> Dialled:
    """A case that can be solved: both stages work, the peak stands at its ceiling, and no two settings do the same.

    off_db: how far each setting stands from its place at most.
    """
    while True:
        chain = any_chain(rng, clips)
        drive, trim = rng.uniform(1, 8), rng.uniform(-2, 5) if clips else rng.uniform(0, 6)
        ceiling = _ceiling(chain, drive, trim)
        there = (drive, ceiling, trim)
        goals = chain.levels(*there)
        slopes = _slopes(chain, there)
        if abs(goals[1] + 1.05) > 0.02 or not 0.7 <= goals[2] <= 6:
            continue
        if slopes[0, 0] < 0.3 or slopes[2, 2] < 0.2 or np.linalg.cond(slopes) > 15:
            continue
        off = rng.uniform(-1, 1, 3) * off_db
        start = (drive + off[0], min(ceiling + off[1], 0.0), trim + off[2])
        return Dialled(chain, there, goals, start, (slopes[0, 0], slopes[1, 1], slopes[2, 2]))


def _ceiling(chain: Compressor | Clipper, drive_db: float, trim_db: float) -> float:
    """Where the true peak comes out at -1.05 dBTP, by halving."""
    low, high = -6.0, 0.0
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (low, middle) if chain.levels(drive_db, middle, trim_db)[1] > -1.05 else (middle, high)
    return low


def _slopes(chain: Compressor | Clipper, there: Levels, step_db: float = 0.05) -> np.ndarray:
    """What each level gains for a decibel of each setting, by small differences; (levels, settings)."""
    columns = []
    for n in range(3):
        more, less = list(there), list(there)
        more[n], less[n] = more[n] + step_db, less[n] - step_db
        columns.append(np.subtract(chain.levels(*more), chain.levels(*less)) / (2 * step_db))
    return np.stack(columns, axis=1)
