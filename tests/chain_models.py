"""Two stages in a row as arithmetic, to try a solver of three settings on hundreds of them.

The last stage is a limiter with a ceiling (`limiter_models`). Either a compressor stands before it, driven by its input
trim, whose attenuation is asked for; or a clipper, whose drive makes it louder, while it is the limiter's own attenuation
that is asked for, by its input trim. The shapes are our own; ratios, knees and crests are common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from limiter_models import Limiter, Music, music

#: What the third search is told of: the share of the loud blocks that attenuate less.
LOUD_SHARE = 95


@dataclass(frozen=True)
class Compressor:
    """What a compressor leaves of some music. threshold_lufs: of a block's loudness; knee_db: how wide its bend is."""

    music: Music
    limiter: Limiter
    threshold_lufs: float
    ratio: float = 2.0
    knee_db: float = 3.0

    def levels(self, drive_db: float, ceiling_db: float, trim_db: float) -> tuple[float, float, float]:
        """Loudness (LUFS) and true peak (dBTP) of the whole; attenuation of the compressor, dB.

        drive_db: of the limiter. trim_db: the compressor's input trim, nothing made up behind it.
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

    def levels(self, drive_db: float, ceiling_db: float, trim_db: float) -> tuple[float, float, float]:
        """Loudness (LUFS) and true peak (dBTP) of the whole; attenuation of the limiter, dB.

        drive_db: of the clipper. trim_db: the limiter's input trim.
        """
        loudness, peak = self.music.loudness_lufs + drive_db, self.music.peak_dbtp + drive_db
        clipped = self.knee_db * np.log1p(np.exp((peak - self.threshold_dbtp) / self.knee_db))
        loudness, peak = loudness - self.kept * clipped, peak - clipped
        over = peak + trim_db - ceiling_db
        less = 1.0 * np.log1p(np.exp(over / 1.0))
        last = replace(self.limiter, music=Music(loudness, peak))
        return last.loudness(trim_db, ceiling_db), last.true_peak(trim_db, ceiling_db), _most_of(less, loudness)


def _most_of(attenuation_db: np.ndarray, loudness: np.ndarray) -> float:
    """The attenuation that 95 % of the louder half of the blocks stay below."""
    loud = attenuation_db[loudness >= np.median(loudness)]
    return float(np.percentile(loud, LOUD_SHARE))


def any_chain(rng: np.random.Generator, clips: bool) -> Compressor | Clipper:
    """One of the chains that there may be, on some music, set so that both stages work a little."""
    sound = music(rng)
    limiter = Limiter(sound, False, rng.uniform(5, 8), rng.uniform(0.5, 3.0), rng.uniform(0.2, 0.9),
                      float(rng.choice([0.0, 0.01])), rng.uniform(0, 6))  # fmt: skip
    if clips:
        threshold = float(np.percentile(sound.peak_dbtp, rng.uniform(50, 98)))
        return Clipper(sound, limiter, threshold, rng.uniform(0.3, 2.0), rng.uniform(0.05, 0.3))
    threshold = float(np.percentile(sound.loudness_lufs, rng.uniform(40, 98)))
    return Compressor(sound, limiter, threshold, rng.uniform(1.5, 4.0), rng.uniform(1.0, 6.0))
