"""Noise shaping by error feedback.

Source of the filter: S. P. Lipshitz, J. Vanderkooy, R. A. Wannamaker, "Minimally Audible Noise Shaping", JAES
39(11), November 1991: five coefficients for 44.1 kHz after the ear's sensitivity to faint noise (the figures as open
resampling tools print them under that paper's name, from memory; the paper itself was not read). What is added is the
error of dither and rounding, filtered by 1 - sum(c[k] z^-k).
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

Doubles = NDArray[np.float64]
COEFFICIENTS = (2.033, -2.165, 1.959, -1.590, 0.6149)
#: The filter is made for 44.1 kHz; at 48 kHz everything lies 9 % higher. At other rates it would miss the ear.
RATES_HZ = (44100, 48000)
#: Recursive, so that it runs sample by sample: in machine code where numba is there.
_Loop = Callable[[Doubles, Doubles, Doubles, Doubles, float, Doubles], None]


def _feed_back(row: Doubles, noise: Doubles, filter: Doubles, errors: Doubles, full: float, out: Doubles) -> None:
    """out: whole steps. errors: of the last samples, the latest first; changed in place.

    What cannot be held counts as held, so that a clipped sample does not ring on.
    """
    taps = filter.size
    for at in range(row.size):
        wanted = row[at]
        for tap in range(taps):
            wanted -= filter[tap] * errors[tap]
        word = np.floor(wanted + noise[at] + 0.5)
        for tap in range(taps - 1, 0, -1):
            errors[tap] = errors[tap - 1]
        errors[0] = min(max(word, -full), full - 1.0) - wanted
        if abs(errors[0]) > 4.0:
            errors[0] = 0.0
        out[at] = word


class Feedback:
    """The filter, and the loop that runs it: compiled when it is first used."""

    size = len(COEFFICIENTS)

    @cached_property
    def _loop(self) -> _Loop:
        """The same arithmetic either way: no step of it may be contracted or reordered."""
        try:
            numba: Any = importlib.import_module("numba")
        except (ImportError, OSError):  # not there, or not for this machine: Python does it, slower
            return _feed_back
        if numba.config.DISABLE_JIT:
            return _feed_back
        loop: _Loop = numba.njit(fastmath=False, error_model="numpy")(_feed_back)
        return loop

    def shaped(self, row: Doubles, noise: Doubles, errors: Doubles, full: int) -> Doubles:
        """One channel's samples, in steps, as whole steps. errors: as `_feed_back` has them."""
        out = np.empty_like(row)
        self._loop(np.ascontiguousarray(row), noise, np.array(COEFFICIENTS), errors, float(full), out)
        return out


feedback = Feedback()


def transfer_db(frequency_hz: Doubles, rate_hz: int) -> Doubles:
    """What the filter does to the error's spectrum, in dB."""
    turn = np.exp(-2j * np.pi * np.asarray(frequency_hz)[:, None] / rate_hz * np.arange(1, Feedback.size + 1))
    return np.asarray(20 * np.log10(np.abs(1 - (turn * np.array(COEFFICIENTS)).sum(axis=1))))
