"""Harmonics of a tone: the second to the ninth, and all of them together as distortion.

The tone has a prime number of whole periods in a second, so that it and its harmonics fall on single lines of the
spectrum of one second, and what is mirrored at half the rate falls beside them. THD_F: against the fundamental.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sweeper.meter.findings import SILENT_POWER
from sweeper.meter.grid import Doubles, Samples
from sweeper.quantities import NO_HARMONICS
from sweeper.units import gain

ORDERS = tuple(range(2, 10))
#: A prime is never this far off below 100 kHz: the largest gap between two is 72 (tables, from memory).
FARTHEST_HZ = 150
#: A line counts from so far above the noise around it.
CLEAR_OF_NOISE_DB = 10.0
#: Nothing below this against the tone can be told in 32-bit floats.
ROUNDING_DB = -150.0
#: Lines beside a harmonic that are its own, not noise.
OWN_LINES = 3
#: The share of exponentially distributed powers (lines of noise) below whose median half of them lie: ln 2 of the mean.
MEDIAN_OF_MEAN = math.log(2.0)
NO_TONE = "the tone does not come out"


@dataclass(frozen=True)
class Harmonics:
    """tone_hz: the fundamental. level_dbfs: its RMS over all channels (a full-scale sine: -3.01); None = it is missing.

    dbc: H2 to H9 against it, in dB; None for one that is lost in noise or beyond half the rate. thd_pct: all of them
    together against the fundamental, in per cent. floor_pct: what is lost in noise can amount to. remark: in words.
    """

    tone_hz: int
    level_dbfs: float | None
    dbc: tuple[float | None, ...]
    thd_pct: float | None
    floor_pct: float | None
    remark: str = ""


def coherent_hz(near_hz: float, rate_hz: int) -> int:
    """The frequency to use: the nearest prime number of Hz that does not divide the rate; the lower of two.

    Raises ValueError when it is not between 20 Hz and a quarter of the rate.
    """
    if not 20.0 <= near_hz <= rate_hz / 4:
        raise ValueError(f"a tone of 20 to {rate_hz // 4} Hz is expected, not {near_hz:g}")
    around = range(max(11, int(near_hz) - FARTHEST_HZ), int(near_hz) + FARTHEST_HZ)
    fitting = [hz for hz in around if _is_prime(hz) and rate_hz % hz]
    return min(fitting, key=lambda hz: (abs(hz - near_hz), hz))


def tone(tone_hz: int, rms_dbfs: float, frames: int, rate_hz: int) -> Doubles:
    """A sine of an RMS level (full scale: -3.01), (frames,)."""
    cycles = np.arange(frames, dtype=np.int64) * tone_hz % rate_hz / rate_hz
    return math.sqrt(2.0) * gain(rms_dbfs) * np.sin(2.0 * np.pi * cycles)


def harmonics(sound: Samples, tone_hz: int, rate_hz: int) -> Harmonics:
    """The harmonics in one second of a tone, (channels, rate_hz frames), all channels' powers together.

    tone_hz: from `coherent_hz`. Raises ValueError for another length. A sine of full scale through x + 0.1 x^2 has
    H2 at -26.02 dBc, which is 5 % (arithmetic). THD_F; AES17's ratio with noise is another figure.
    """
    if sound.shape[1] != rate_hz:
        raise ValueError(f"{rate_hz} frames are expected, not {sound.shape[1]}")
    spectrum = np.fft.rfft(sound.astype(np.float64), axis=1) * (math.sqrt(2.0) / rate_hz)
    lines = np.square(np.abs(spectrum)).sum(axis=0) / sound.shape[0]
    fundamental, _ = _standing(lines, tone_hz, tone_hz, SILENT_POWER)
    if not fundamental:
        return Harmonics(tone_hz, None, (None,) * len(ORDERS), None, None, NO_TONE)
    rounding = fundamental * gain(ROUNDING_DB) ** 2
    told = [_standing(lines, order * tone_hz, tone_hz, rounding) for order in ORDERS]
    powers = [power / fundamental for power, _ in told]
    lost = sum(noise for power, noise in told if not power) / fundamental
    dbc = tuple(10.0 * math.log10(power) if power else None for power in powers)
    return Harmonics(
        tone_hz, 10.0 * math.log10(fundamental), dbc, 100.0 * math.sqrt(sum(powers)), 100.0 * math.sqrt(lost),
        "" if any(powers) else NO_HARMONICS,
    )  # fmt: skip


def _standing(lines: Doubles, at: int, tone_hz: int, rounding: float) -> tuple[float, float]:
    """(power of a line, the power from which it counts above the noise around it); 0.0 for one that does not count."""
    if at >= lines.size - OWN_LINES:
        return 0.0, 0.0
    reach = max(2 * OWN_LINES, tone_hz // 4)
    around = np.concatenate((lines[max(1, at - reach) : at - OWN_LINES], lines[at + OWN_LINES + 1 : at + reach + 1]))
    noise = float(np.median(around)) / MEDIAN_OF_MEAN
    least = max(noise * gain(CLEAR_OF_NOISE_DB) ** 2, rounding)
    power = float(lines[at])
    return (power if power > least else 0.0), least


def _is_prime(number: int) -> bool:
    return number > 1 and all(number % factor for factor in range(2, math.isqrt(number) + 1))
