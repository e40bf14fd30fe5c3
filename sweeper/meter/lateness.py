"""By how much something is late: the delay between noise that went in and what came out.

Generalised cross-correlation with the phase transform (Knapp and Carter, "The generalized correlation method for
estimation of time delay", IEEE Trans. ASSP 24, 1976; from memory). Every line of the spectrum counts alike, so the peak
does not follow the phase of a tone control as that of plain correlation does, and stands out through saturation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

#: Below this share of lines that agree, there is no one delay: reverberation, chorus, noise. Ours, tried on the
#: processors of tests/meter/test_lateness.py.
LEAST_CLARITY = 0.15
#: Times 1 / sqrt(lines): more than chance makes. Ours; 65,536 frames of unrelated noise reach 3.4 of them, and 5.2
#: where both channels hold the same (six tries each).
CHANCE = 8.0
#: Lines of the output this much below its loudest are rounding, not sound.
BELOW_LOUDEST_DB = 100.0


@dataclass(frozen=True)
class Lateness:
    """frames: how much later it came out, negative = early, with a fraction of a frame.

    inverted: its polarity is turned over. clarity: the share of the spectrum that agrees on it, 0 to 1.
    """

    frames: float
    inverted: bool
    clarity: float


def lateness(went_in: NDArray[np.float32], came_out: NDArray[np.float32], most_frames: int) -> Lateness | None:
    """The delay of what came out, (channels, frames) each, at most so many frames either way.

    None where no one delay stands out: silence, reverberation, noise of its own. The input should hold all frequencies.
    """
    frames = min(went_in.shape[1], came_out.shape[1])
    size = scipy.fft.next_fast_len(frames + most_frames, real=True)
    ours = scipy.fft.rfft(went_in[:, :frames].astype(np.float64), size, axis=1)
    theirs = scipy.fft.rfft(came_out[:, :frames].astype(np.float64), size, axis=1)
    sizes = np.abs(theirs)
    if not sizes.any():
        return None
    cross = theirs * np.conj(ours)
    heard = (sizes > sizes.max() * 10 ** (-BELOW_LOUDEST_DB / 20)) & (np.abs(cross) > 0)
    phases = np.where(heard, cross / np.where(heard, np.abs(cross), 1), 0).sum(axis=0)
    agreeing = scipy.fft.irfft(phases, size) * (phases.size / max(1, int(heard.sum())))
    near = np.concatenate([agreeing[size - most_frames :], agreeing[: most_frames + 1]])
    at = int(np.abs(near).argmax())
    clarity = float(abs(near[at]))
    if clarity < max(LEAST_CLARITY, CHANCE / math.sqrt(int(heard.sum()))):
        return None
    plain = float(scipy.fft.irfft(cross.sum(axis=0), size)[at - most_frames])
    inverted = bool(near[at] < 0) and plain < 0  # beyond a low pass the phase is turned, the sound is not
    return Lateness(at - most_frames + _between(np.abs(near), at), inverted, min(1.0, clarity))


def _between(values: NDArray[np.float64], at: int) -> float:
    """Where between the frames the peak is, by a parabola: -0.5 to 0.5."""
    if not 0 < at < len(values) - 1:
        return 0.0
    before, here, after = values[at - 1 : at + 2]
    bend = before - 2 * here + after
    return float(0.5 * (before - after) / bend) if bend else 0.0
