"""A variant tried on excerpts of its mix: solved for what they foretell of the whole, measured, no sound written.

Runs in workers.
"""

from __future__ import annotations

import gc
import time

from sweeper.render.job import Job, Rendered
from sweeper.render.listening import Listening
from sweeper.render.room import Room
from sweeper.render.turning import solved_in
from sweeper.render.upstream import Upstream
from sweeper.workers import Report


def listen(job: Job, report: Report) -> Rendered:
    """Try a job's variant on excerpts, from its mix on. What comes of it is no full render's: `passes` is 0.

    Raises as Room does, and AudioFileError where the mix is too short or too soft for excerpts.
    """
    began = time.perf_counter()
    try:
        room = Room(job, report)
        listening = Listening(job, room, Upstream(job, room))
        solved = solved_in(room, job.reach, listening.tried) if job.reach else ()
        if not job.reach:
            listening.tried()
        records, notes = room.records(), room.notes(())  # as they were tried: looks play on
        measurements = listening.measured()
        return Rendered(
            measurements, job.mix.source, records, solved, notes, audio_sha256="", passes=0, plugin_s=room.plugin_s,
            wall_s=time.perf_counter() - began, excerpts=round(listening.passes, 3),
        )  # fmt: skip
    finally:
        gc.collect()  # plugins of an earlier task must not pile up, nor end in another thread later
