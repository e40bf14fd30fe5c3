"""What workers are asked about the stages of a past master; plain values."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from sweeper.audio import AudioFormat
from sweeper.host.setup import StageSetup
from sweeper.records import Applied
from sweeper.render.job import Job


@dataclass(frozen=True)
class StandingOrder:
    """Stages, and for each the controls to put back. patience_s: how long a plugin may show no sign of life."""

    stages: tuple[StageSetup, ...]
    standing: tuple[tuple[Applied, ...], ...]
    format: AudioFormat
    block_frames: int
    patience_s: float


@dataclass(frozen=True)
class Kept:
    """For each stage: the controls that stay where they are put, and those that do not (meters, and what is gone)."""

    taken: tuple[tuple[Applied, ...], ...]
    refused: tuple[tuple[Applied, ...], ...]


@dataclass(frozen=True)
class LookOrder:
    """Stages to load and to tell how they stand, without a sound. patience_s: as in a StandingOrder."""

    stages: tuple[StageSetup, ...]
    format: AudioFormat
    block_frames: int
    patience_s: float


@dataclass(frozen=True)
class BehindOrder:
    """Stages of a job, by their numbers and in order, whose output is to be written into a folder of its own."""

    job: Job
    stages: tuple[int, ...]
    folder: Path
