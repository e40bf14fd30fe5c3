"""Everything that was heard of a mix, as plain values: what the findings are judged from."""

from __future__ import annotations

from dataclasses import dataclass

from sweeper.audio import SoundFile
from sweeper.meter.band_edge import BandEdge
from sweeper.meter.coding_grid import CodingGrid
from sweeper.meter.flat_tops import Clipped
from sweeper.meter.low_end import Bass
from sweeper.quantities import Measurements


@dataclass(frozen=True)
class Ends:
    """silence_s: digital silence, noise_s: what is faint before and after the music; at head and tail.

    noise_dbfs: RMS of that; None where there is none. first_dbfs, last_dbfs: RMS of the first and the last ms; None =
    silence.
    """

    silence_s: tuple[float, float]
    noise_s: tuple[float, float]
    noise_dbfs: tuple[float | None, float | None]
    first_dbfs: float | None
    last_dbfs: float | None


@dataclass(frozen=True)
class Heard:
    """bits: the word that the samples need, None = on no grid of 24 bits. between: places over full scale, and where.

    channels_dbfs: RMS of each, None = silence. same, opposite: of two channels, sample for sample.
    """

    file: SoundFile
    measurements: Measurements
    bits: int | None
    clipped: Clipped
    between: tuple[int, tuple[int, ...]]
    ends: Ends | None
    bass: Bass | None
    channels_dbfs: tuple[float | None, ...]
    same: bool
    opposite: bool
    edge: BandEdge | None
    grid: CodingGrid | None

    def seconds(self, frames: tuple[int, ...]) -> tuple[float, ...]:
        """Frames as seconds."""
        return tuple(frame / self.file.format.rate_hz for frame in frames)
