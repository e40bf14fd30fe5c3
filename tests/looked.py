"""Mixes made in code, and what intake finds in them; in this process."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile

from sweeper.delivery.intake.finding import Finding
from sweeper.delivery.intake.listening import Intake, IntakeOrder, look_over

RATE_HZ = 48000


class Quiet:
    """A report that nobody hears."""

    def phase(self, what: str, limit_s: float) -> None:
        """Nothing."""

    def beat(self, position: str = "", share: float | None = None) -> None:
        """Nothing."""


def good_mix(seconds: float = 4.0, seed: int = 1) -> np.ndarray:
    """Full-band noise in beats over a bass in mono, faded at both ends, -6 dBFS; (2, frames)."""
    rng = np.random.default_rng(seed)
    frames = round(seconds * RATE_HZ)
    at = np.arange(frames)
    beat = np.exp(-((at % 24000) / 6000)) + 0.1
    middle, side = rng.standard_normal((2, frames))
    bass = 0.8 * np.sin(2 * np.pi * 55 / RATE_HZ * at)
    mix = np.stack([middle + 0.3 * side, middle - 0.3 * side]) * beat * 0.25 + bass
    fade = np.clip(np.minimum(at, frames - 1 - at) / 4800, 0, 1)
    mix = mix * fade
    return mix * (0.5 / np.abs(mix).max())


def looked(folder: Path, samples: np.ndarray, rate_hz: int = RATE_HZ, subtype: str = "PCM_24",
           name: str = "mix.wav") -> Intake:  # fmt: skip
    """The samples written as a file, and looked over."""
    path = folder / name
    soundfile.write(path, np.atleast_2d(samples).T, rate_hz, subtype=subtype)
    return look_over(IntakeOrder(path), Quiet())  # type: ignore[arg-type]


def finding(found: Intake, key: str) -> Finding:
    """The one of that key."""
    return next(one for one in found.findings if one.key == key)
