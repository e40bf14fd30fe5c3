"""What workers are asked to do with whole files, and what they give back; plain values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from sweeper.audio import AudioFormat, BroadcastTag, SoundFile
from sweeper.host.setup import StageSetup
from sweeper.quantities import Measurements

#: How long a slow disk may take over a whole file, and how much of it is read at a time.
FILE_PATIENCE_S = 600.0
FILE_BLOCK_FRAMES = 65536
Ranges = Mapping[str, tuple[tuple[int, int], ...]]


@dataclass(frozen=True)
class MeasureOrder:
    """Measure a file, and the named frame ranges of it."""

    file: Path
    sections: Ranges


@dataclass(frozen=True)
class Measured:
    """A file with its measurements. audio_sha256: of its decoded samples."""

    file: SoundFile
    measurements: Measurements
    audio_sha256: str


@dataclass(frozen=True)
class CopyOrder:
    """Copy a file with a gain into a 32-bit float WAV. tag: for a file that has none of ours."""

    source: Path
    target: Path
    gain_db: float
    tag: BroadcastTag | None


@dataclass(frozen=True)
class TimeOrder:
    """Render noise of that length through the stages. block_frames, patience_s: as in a Job."""

    stages: tuple[StageSetup, ...]
    format: AudioFormat
    duration_s: float
    block_frames: int
    patience_s: float


@dataclass(frozen=True)
class StoreTimeOrder:
    """Store noise of that length in a folder, and read it back."""

    folder: Path
    format: AudioFormat
    duration_s: float
