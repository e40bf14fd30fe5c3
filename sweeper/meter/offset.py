"""How much later one recording of a sound begins than another: cross-correlation by FFT.

The signals are differentiated first: that sharpens the peak, which in bass-heavy music is as broad as the bass is slow.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.fft import irfft, next_fast_len, rfft


@dataclass(frozen=True)
class Offset:
    """frames: how much later the second begins, to a fraction of a frame.

    likeness: the correlation there, 0.0 to 1.0. inverted: its polarity is turned round.
    """

    frames: float
    likeness: float
    inverted: bool


def offset_of(sent: np.ndarray, got: np.ndarray, least: int, most: int) -> Offset:
    """How much later `sent` lies in `got`, looked for from `least` to `most` frames (either may be negative).

    sent, got: (channels, frames), the same channels. A silent one has no likeness to anything.
    """
    one, other = np.diff(sent.astype(np.float64)), np.diff(got.astype(np.float64))
    size = next_fast_len(one.shape[1] + other.shape[1], real=True)
    spectrum = (np.conj(rfft(one, size)) * rfft(other, size)).sum(axis=0)
    products = irfft(spectrum, size)
    lags = np.arange(max(least, 1 - one.shape[1]), min(most, other.shape[1] - 1) + 1)
    if not len(lags):
        return Offset(0.0, 0.0, False)
    here = products[lags % size]
    scale = _energies(other, one.shape[1], lags) * float((one**2).sum())
    likeness = np.divide(np.abs(here), np.sqrt(scale), out=np.zeros(len(lags)), where=scale > 0)
    best = int(np.argmax(likeness))
    fraction = _fraction(spectrum, size, float(lags[best])) if likeness[best] > 0 else 0.0
    return Offset(float(lags[best]) + fraction, min(1.0, float(likeness[best])), bool(here[best] < 0))


def _energies(got: np.ndarray, frames: int, lags: np.ndarray) -> np.ndarray:
    """The energy of the stretch of `got` that each lag holds `frames` frames against."""
    total = np.concatenate([[0.0], np.cumsum((got**2).sum(axis=0))])
    last = len(total) - 1
    energies: np.ndarray = total[np.clip(lags + frames, 0, last)] - total[np.clip(lags, 0, last)]
    floor = 0.1 * float(energies.max())  # a short or silent stretch likens itself to anything
    floored: np.ndarray = np.maximum(energies, floor)
    return floored


def _fraction(spectrum: np.ndarray, size: int, lag: float) -> float:
    """Where between the samples the correlation is largest, within half a frame, to 1/64.

    The correlation of band-limited signals is exact between its samples too: its spectrum summed there.
    """
    turn = 2j * np.pi * np.arange(len(spectrum)) / size
    spun = spectrum * np.exp(turn * lag)
    off = np.linspace(-0.5, 0.5, 65)
    heights = [abs(float((spun * np.exp(turn * one)).real.sum())) for one in off]
    return float(off[int(np.argmax(heights))])
