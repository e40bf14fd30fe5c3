"""What a worker does with a step that several variants share: render it, store it. Runs in workers."""

from __future__ import annotations

import gc
import time

from sweeper.render.gave import Given
from sweeper.render.job import StepJob, Stored
from sweeper.render.orders import FILE_PATIENCE_S
from sweeper.render.room import Room
from sweeper.render.store import write_entry
from sweeper.render.stream import render
from sweeper.workers import Report


def render_step(job: StepJob, report: Report) -> Stored:
    """Render a step into the store. Raises as Room does, and StoreError when the store refuses."""
    began = time.perf_counter()
    room = Room(job, report)
    try:
        with write_entry(job.target.folder, job.target.key, room.format) as entry:
            report.phase("rendering", job.patience_s)
            given = Given(room)
            notes = render(room.stages, room.input(), room.frames, job.block_frames, entry.write, room.progress,
                           given.taps)  # fmt: skip
            report.phase("storing", FILE_PATIENCE_S)
            audible = tuple(record for record in given.on(room.records()) if not record.bypass)
            entry.commit(audible, room.notes(notes), room.plugin_s)
        return Stored(room.steps, room.plugin_s, time.perf_counter() - began)
    finally:
        gc.collect()  # plugins of an earlier task must not pile up, nor end in another thread later
