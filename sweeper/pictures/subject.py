"""What a picture is of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from sweeper.audio import SoundFile
from sweeper.meter.curves import Curves
from sweeper.quantities import Measurements

Ranges = Mapping[str, tuple[tuple[int, int], ...]]


@dataclass(frozen=True)
class Subject:
    """A measured file. sections: name -> frame ranges, measured too. target_lufs: what its loudness is held against."""

    file: SoundFile
    measurements: Measurements
    curves: Curves
    sections: Ranges = field(default_factory=dict)
    target_lufs: float | None = None
