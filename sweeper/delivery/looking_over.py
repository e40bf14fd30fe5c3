"""Mixes looked over, side by side."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from sweeper.delivery.intake.listening import Intake, IntakeOrder
from sweeper.errors import AudioFileError
from sweeper.workers import Failed, Pool, Task, value_of


def looked_over(files: Sequence[Path], pool: Pool) -> list[Intake]:
    """Every file, in order. Raises AudioFileError, or whatever ended it, for the first that cannot be heard."""
    tasks = [
        Task(str(n), "sweeper.delivery.intake.listening:look_over", IntakeOrder(file), file.name)
        for n, file in enumerate(files)
    ]
    return [
        value_of(outcome, Intake, partial(_not_heard, file))
        for file, outcome in zip(files, pool.map_in_order(tasks), strict=True)
    ]


def _not_heard(file: Path, failed: Failed) -> AudioFileError:
    return AudioFileError(f"looking over {file} {failed.what}", "the file may be damaged; bounce it again as WAV")
