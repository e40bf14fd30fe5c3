"""What workers are asked to do with sound that leaves the machine, and what they give back; plain values."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from sweeper.host.setup import StageSetup
from sweeper.records import StageRecord
from sweeper.render.job import StepJob


@dataclass(frozen=True)
class SendOrder:
    """Render what is to be sent out into `file`. job: as for a shared step, its target unused. gain_db: on top."""

    job: StepJob
    file: Path
    gain_db: float
    tag: str


@dataclass(frozen=True)
class Sent:
    """What was sent out. stages, notes: of all that made it, bypassed stages left out. frames: its length."""

    audio_sha256: str
    frames: int
    rate_hz: int
    channels: int
    stages: tuple[StageRecord, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class TakeOrder:
    """Take in what came back from `setup`. file: it. sent_file: what was sent. folder: where the step goes.

    before: the key of what was sent; recipe: of the stage.
    """

    setup: StageSetup
    file: Path
    sent_file: Path
    sent: Sent
    folder: Path
    before: str
    recipe: str


@dataclass(frozen=True)
class Taken:
    """What came back, as a step. audio_sha256: of the file as it was found."""

    key: str
    audio_sha256: str
    file: str
    notes: tuple[str, ...]
