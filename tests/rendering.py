"""Jobs on a mix of a second or two, for tests of what workers do with them; and what a Room looks like from inside."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from whole_runs import mix

from sweeper.audio import audio_hash, inspect
from sweeper.host.setup import StageSetup
from sweeper.quantities import Measurements
from sweeper.records import StageRecord
from sweeper.render.job import Job, MixFile, ReachOrder, StepJob, StoredStep
from sweeper.render.jobs import mix_file
from sweeper.render.orders import Measured
from sweeper.render.room import Room
from sweeper.workers import Report


def a_mix(folder: Path, seconds: float = 1.0, **how: int) -> MixFile:
    """A mix in a folder, as jobs name it."""
    file = inspect(mix(folder / "mix.wav", seconds, **how))
    return mix_file(Measured(file, Measurements({}), audio_hash(file)))


def variant_job(music: MixFile, target: Path, stages: Sequence[StageSetup], reach: tuple[ReachOrder, ...] = (),
                start: StoredStep | None = None, passing: StoredStep | None = None) -> Job:  # fmt: skip
    """A variant of a mix, its target in a folder that is there."""
    return Job("007", "Lantern", music, {}, tuple(stages), reach, target, "0123456789abcdef01234567", "2026-11-24",
               "18:05:09", 60.0, start=start, passing=passing)  # fmt: skip


def step_job(music: MixFile, target: StoredStep, stages: Sequence[StageSetup],
             start: StoredStep | None = None) -> StepJob:  # fmt: skip
    """A step on a mix."""
    return StepJob(music, tuple(stages), target, 60.0, start=start)


def key_of(name: str) -> str:
    """A key of the store."""
    return hashlib.sha256(name.encode()).hexdigest()


def inside(job: Job | StepJob, report: Report) -> tuple[np.ndarray, int, tuple[StageRecord, ...], tuple[str, ...]]:
    """(its input, its steps, its records, its notes of a render that was noted "quiet"): of a job's Room."""
    room = Room(job, report)
    return np.concatenate(list(room.input()), axis=1), room.steps, room.records(), room.notes(("quiet",))
