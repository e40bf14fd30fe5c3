"""The recall sheet of a rendered variant, and back from a sheet to what came of the variant."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

from sweeper.quantities import Measurements
from sweeper.records import SHEET_NAME, Sheet, StageRecord
from sweeper.render.job import Job, Rendered, Solved
from sweeper.render.versions import versions
from sweeper.render.writing import write_whole


def write_sheet(job: Job, rendered: Rendered) -> Path:
    """Write the sheet beside the job's target, whole or not at all; one of an unfinished attempt is replaced.

    Raises RunFolderError when the disk refuses.
    """
    data = sheet_of(job, rendered).as_data()
    path = job.target.with_name(SHEET_NAME)
    write_whole(path, json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n")
    return path


def sheet_of(job: Job, rendered: Rendered) -> Sheet:
    """The recall sheet of a rendered variant."""
    return Sheet(
        id=job.tag, title=job.title, variant=job.variant, source=rendered.source, stages=_stages(job, rendered),
        block_frames=job.block_frames, audio_sha256=rendered.audio_sha256,
        measurements=rendered.measurements.as_data(), reach=tuple(solved.as_data() for solved in rendered.solved),
        notes=rendered.notes, versions=versions(), passes=rendered.passes, plugin_s=rendered.plugin_s,
        created=f"{job.date}T{job.time}", excerpts=round(rendered.excerpts, 3),
        parent=job.parent, change=job.change,
    )  # fmt: skip


def _stages(job: Job, rendered: Rendered) -> tuple[StageRecord, ...]:
    stages = rendered.stages
    if job.repeats:
        stages = tuple(replace(stage, repeats=each) for stage, each in zip(stages, job.repeats, strict=True))
    if job.handles:
        stages = tuple(replace(stage, handles=each) for stage, each in zip(stages, job.handles, strict=True))
    return stages


def rendered_of(sheet: Sheet) -> Rendered:
    """What came of the variant that a sheet tells of; the steps and seconds of another time are not counted again."""
    return Rendered(
        measurements=Measurements.from_data(sheet.measurements), source=sheet.source, stages=sheet.stages,
        solved=tuple(Solved.from_data(data) for data in sheet.reach), notes=sheet.notes,
        audio_sha256=sheet.audio_sha256, passes=sheet.passes, plugin_s=sheet.plugin_s, wall_s=0.0,
        excerpts=sheet.excerpts,
    )  # fmt: skip
