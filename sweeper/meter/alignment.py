"""How much later one file lies than another that was made from it: where it is looked for, and what is made of it.

Plain correlation by FFT of the differentiated sound: that sharpens the peak, which in bass-heavy music is as broad as
the bass is slow. Each channel may be turned over by itself, and between the samples the peak is followed to where its
slope ends, because a null test is one of the things it is for.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np
import scipy
from numpy.typing import NDArray

from sweeper.meter.grid import Doubles, Samples

#: Below this two stretches are not the same music. Ours: unrelated music stays under 0.15, masters of one mix over 0.8.
LEAST_LIKENESS = 0.25
#: The correlation of two stretches of unrelated noise has a standard deviation of 1/sqrt(frames), as any textbook of
#: statistics has it; so many times that is no chance. How many is ours, tried on noise from 5 ms on.
CHANCES = 6
#: A stretch with less than this share of the energy of the loudest is like anything, so that no less is reckoned
#: with. Ours, not tried otherwise.
LEAST_ENERGY = 0.1
#: An offset between the samples counts where it leaves less than this share of what the whole one leaves (6 dB): a
#: filter moves the peak too, and is no delay.
CLEARLY_LESS = 0.25
#: What a clock that runs fast or slow must come to over the file, in frames, to be told: far more than the 1e-3 by
#: which places of a steady offset differ. Ours, not tried otherwise.
LEAST_DRIFT_FRAMES = 0.1
#: How many places tell a clock, two of which lie on a line whatever they are; and how far off the line they may lie, as
#: a share of what it rises. Ours, tried on a clock and on an edit alone.
FEWEST_PLACES = 4
OFF_THE_LINE = 0.2
#: Two places that differ by less in likeness are as good as alike.
AS_ALIKE = 1e-3


@dataclass(frozen=True)
class Lag:
    """Where a stretch lies in a longer one: frames from its beginning, whole and to a fraction.

    likeness: the correlation at the whole one, 0 to 1. left_whole, left_between: the share of the energy that is left
    there by the best gain. inverted: which channels are turned over.
    """

    whole: int
    frames: float
    likeness: float
    left_whole: float
    left_between: float
    inverted: tuple[bool, ...]


@dataclass(frozen=True)
class Place:
    """A stretch of A found again in B. at_s: where its energy lies, in A. offset_frames: how much later it is in B."""

    at_s: float
    offset_frames: float
    lag: Lag


@dataclass(frozen=True)
class Alignment:
    """How B lies to A. offset_frames: how much later; whole, unless a fraction clearly nulls better.

    likeness: of the likeliest place. drift_ppm: by how much B is stretched where its clock ran otherwise, None where
    that cannot be told from a steady offset. wanders: the offset changes on the way, and not as by a clock.
    exchanged: left of A is right of B; `inverted` goes by the channels of A.
    """

    offset_frames: float
    inverted: tuple[bool, ...]
    likeness: float
    drift_ppm: float | None
    wanders: bool
    places: tuple[Place, ...]
    exchanged: bool = False


def whole_lag(one: Samples, other: Samples, near: int = 0) -> tuple[int, float]:
    """Where in `other` (channels, more frames) `one` (channels, frames) lies likeliest: frames, and likeness 0 to 1.

    Of places as good as alike the one nearest to `near` is taken: music repeats itself.
    """
    found = _correlated(_sharpened(one), _sharpened(other))
    alike = np.flatnonzero(found.likeness >= found.likeness.max() - AS_ALIKE)
    best = int(alike[np.abs(alike - near).argmin()])
    return best, float(found.likeness[best])


def centre(samples: Samples) -> float:
    """The frame about which the energy that an offset is told from lies."""
    energies = np.square(_sharpened(samples)).sum(axis=0)
    total = float(energies.sum())
    return float((energies * np.arange(len(energies))).sum()) / total if total else samples.shape[1] / 2


def fine_lag(one: Samples, other: Samples) -> Lag:
    """The same to a fraction of a frame: to some 1e-5 where the sounds differ by a delay alone."""
    found = _correlated(_sharpened(one), _sharpened(other))
    near, heights = _halved(found)
    best = int(near + 0.5)
    if near < best and found.likeness[best - 1] > found.likeness[best]:
        best -= 1
    likeness = float(found.likeness[best])
    inverted = tuple(bool(height < 0) for height in heights)
    signs = np.where(inverted, -1.0, 1.0)[:, None]
    fraction, rise = _between((found.spectra * signs).sum(axis=0), found.size, best, near - best)
    between = min(1.0, likeness * rise)
    return Lag(best, best + fraction, likeness, 1 - min(1.0, likeness) ** 2, 1 - between**2, inverted)


def least_likeness(frames: int, least: float = LEAST_LIKENESS) -> float:
    """What two stretches of so many frames must come to, at least `least`: in short ones noise is like noise."""
    return max(least, CHANCES / math.sqrt(max(1, frames)))


def exchanged(one: Samples, other: Samples) -> bool:
    """Whether left of `one` is right of `other`: that leaves clearly less (6 dB). Both as in `fine_lag`."""
    if len(one) != 2:
        return False
    straight, crossed = fine_lag(one, other), fine_lag(one, other[::-1])
    return crossed.left_between < CLEARLY_LESS * straight.left_between


def settled(places: Sequence[Place], rate_hz: int, least: float = LEAST_LIKENESS) -> Alignment | None:
    """What the places say together; None where none is as like as `least`."""
    alike = [place for place in places if place.lag.likeness >= least]
    if not alike:
        return None
    best = max(alike, key=lambda place: place.lag.likeness)
    drift_ppm = _drift_ppm(alike, rate_hz)
    agreed = alike if drift_ppm is not None else _agreed(alike)
    offset = median(place.offset_frames for place in agreed)
    if median(_gained(place.lag) for place in agreed) >= CLEARLY_LESS:
        offset = float(round(offset))
    offsets = [place.offset_frames for place in alike]
    wanders = drift_ppm is None and max(offsets) - min(offsets) >= 2
    return Alignment(offset, best.lag.inverted, best.lag.likeness, drift_ppm, wanders, tuple(alike))


@dataclass(frozen=True)
class _Correlated:
    """spectra: (channels, bins) of the correlation. At every whole lag: scale, the most that it can come to there, and
    likeness, how much of that it is.
    """

    spectra: NDArray[np.complex128]
    size: int
    scale: Doubles
    likeness: Doubles


def _sharpened(samples: Samples) -> Doubles:
    return np.diff(samples.astype(np.float64), axis=1)


def _correlated(one: Doubles, other: Doubles) -> _Correlated:
    size = scipy.fft.next_fast_len(other.shape[1], real=True)
    spectra = np.conj(scipy.fft.rfft(one, size, axis=1)) * scipy.fft.rfft(other, size, axis=1)
    lags = other.shape[1] - one.shape[1] + 1
    products = scipy.fft.irfft(spectra, size, axis=1)[:, :lags]
    sums = np.concatenate([[0.0], np.cumsum((other**2).sum(axis=0))])
    energies = sums[one.shape[1] :] - sums[:lags]
    floored = np.maximum(energies, LEAST_ENERGY * float(energies.max()))
    scale = np.sqrt(floored * float((one**2).sum()))
    heights = np.abs(products).sum(axis=0)
    likeness = np.divide(heights, scale, out=np.zeros(lags), where=scale > 0)
    return _Correlated(spectra, size, scale, likeness)


def _halved(found: _Correlated) -> tuple[float, Doubles]:
    """The likeliest lag in steps of half a frame, and the correlation of each channel there.

    At whole frames alone half a frame of a bright sound is less like itself than its opposite is, a frame further on.
    """
    scale = np.repeat(found.scale, 2)[:-1]
    halves = 2 * scipy.fft.irfft(found.spectra, 2 * found.size, axis=1)[:, : len(scale)]
    heights = np.abs(halves).sum(axis=0)
    best = int(np.argmax(np.divide(heights, scale, out=np.zeros(len(scale)), where=scale > 0)))
    return best / 2, halves[:, best]


def _between(spectrum: NDArray[np.complex128], size: int, lag: int, about: float) -> tuple[float, float]:
    """How far from the whole lag the correlation is largest, near `about`, and by what factor it is larger there.

    The correlation of band-limited sounds is exact between its samples: its spectrum summed there.
    """
    turn = 2 * np.pi * np.arange(len(spectrum)) / size
    spun = spectrum * np.exp(1j * turn * lag)
    here = float(spun.real.sum())
    if here <= 0:
        return 0.0, 1.0
    found = scipy.optimize.minimize_scalar(
        lambda off: -float((spun.real * np.cos(turn * off) - spun.imag * np.sin(turn * off)).sum()),
        bounds=(about - 0.75, about + 0.75), method="bounded", options={"xatol": 1e-6})  # fmt: skip
    return float(found.x), max(1.0, -float(found.fun) / here)


def _gained(lag: Lag) -> float:
    """The share of what the whole lag leaves that the fraction leaves too; 1 where nothing is left to gain."""
    return lag.left_between / lag.left_whole if lag.left_whole > 1e-9 else 1.0


def _agreed(places: Sequence[Place]) -> list[Place]:
    """The places at the offset that most of them have, to a frame."""
    (most, _), *_ = Counter(round(place.offset_frames) for place in places).most_common(1)
    return [place for place in places if abs(place.offset_frames - most) <= 1]


def _drift_ppm(places: Sequence[Place], rate_hz: int) -> float | None:
    """The slope of the offsets over time, where they lie on a line that is not level."""
    if len(places) < FEWEST_PLACES:
        return None
    at_s = np.array([place.at_s for place in places])
    offsets = np.array([place.offset_frames for place in places])
    slope, level = np.polyfit(at_s, offsets, 1)
    change = abs(slope) * float(at_s[-1] - at_s[0])
    away = float(np.abs(offsets - (slope * at_s + level)).max())
    if change < LEAST_DRIFT_FRAMES or away > OFF_THE_LINE * change:
        return None
    return float(slope / rate_hz * 1e6)
