"""What a worker is asked when controls that nobody set stand elsewhere than they stood; plain values."""

from __future__ import annotations

from dataclasses import dataclass

from sweeper.audio import AudioFormat
from sweeper.host.setup import StageSetup
from sweeper.records import Applied


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
