"""How new what follows a moment is to what came before it: a checkerboard kernel along a self-distance matrix.

Foote, "Automatic audio segmentation using a measure of audio novelty" (2000); what the kernel adds up is the energy
distance of the two sides (Székely and Rizzo), half of it. Both from memory.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import scipy

from sweeper.meter.grid import Doubles

TAPER = 0.5  # of the half width: the deviation of the Gaussian that lets the kernel fade out on both sides


def novelty(features: Doubles, half_width: int) -> Doubles:
    """Novelty in dB at every moment between two frames, (frames - 1,), of features (frames, bands) in dB.

    Mean distance across the moment, less the mean distance within its two sides of `half_width` frames; a distance is
    the RMS over the bands. A step of 6 dB in all bands reads 6; 0 where both sides are alike, and at either end, where
    there is no whole side.
    """
    frames = len(features)
    values = np.zeros(max(frames - 1, 0))
    inner = frames - 2 * half_width + 1  # moments that have both sides
    if inner < 1 or half_width < 2:
        return values
    apart = [_apart(features, lag) for lag in range(2 * half_width)]
    taper = np.exp(-0.5 * ((np.arange(half_width) + 0.5) / (TAPER * half_width)) ** 2)
    across, left, right = np.zeros(inner), np.zeros(inner), np.zeros(inner)
    # a frame is no distance from itself: it adds nothing within, and has no weight there
    within_weight = float(taper.sum() ** 2 - np.square(taper).sum())
    for one in range(half_width):
        for other in range(half_width):
            weight = float(taper[one] * taper[other])
            across += weight * _between(apart, half_width - 1 - one, half_width + other, inner)
            left += weight * _between(apart, half_width - 1 - one, half_width - 1 - other, inner)
            right += weight * _between(apart, half_width + one, half_width + other, inner)
    inside = (left + right) / (2.0 * within_weight)
    values[half_width - 1 : half_width - 1 + inner] = np.maximum(across / float(taper.sum() ** 2) - inside, 0.0)
    return values


def distance_db(one: Doubles, other: Doubles) -> Doubles:
    """RMS over the last axis (bands) of the difference of levels in dB."""
    return np.asarray(np.sqrt(np.mean(np.square(one - other), axis=-1)))


def peaks(values: Doubles, least: float) -> npt.NDArray[np.int64]:
    """Where values are at least `least` and stand out of what surrounds them by half of their height; highest first."""
    found, told = scipy.signal.find_peaks(np.concatenate(([0.0], values, [0.0])), height=least, prominence=0.0)
    standing = found[told["prominences"] >= 0.5 * told["peak_heights"]] - 1
    return np.asarray(standing[np.argsort(-values[standing], kind="stable")], np.int64)


def _apart(features: Doubles, lag: int) -> Doubles:
    """Distance of every frame to the one `lag` later."""
    return distance_db(features[lag:], features[: len(features) - lag])


def _between(apart: list[Doubles], one: int, other: int, count: int) -> Doubles:
    """Distance of frames `one` and `other`, counted from each of the first `count` frames."""
    return apart[abs(one - other)][min(one, other) :][:count]
