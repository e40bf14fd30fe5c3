"""What some stages of a chain give, each in a file of its own. Runs in workers."""

from __future__ import annotations

import gc
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path

import numpy as np

from sweeper.audio import BroadcastTag, WavWriter
from sweeper.recall.orders import BehindOrder
from sweeper.render.orders import FILE_PATIENCE_S
from sweeper.render.room import Room
from sweeper.render.stream import render
from sweeper.workers import Report


def write_behind(order: BehindOrder, report: Report) -> tuple[Path, ...]:
    """Render once and write what the stages give, in the order's order. Raises as Room does, and RunFolderError."""
    job = replace(order.job, stages=order.job.stages[: max(order.stages) + 1])
    room = Room(job, report)
    try:
        with ExitStack() as stack:
            files = [order.folder / f"{number:03}.wav" for number in order.stages]
            writers = [stack.enter_context(WavWriter(f, room.format.channels, room.format.rate_hz, lasting=False))
                       for f in files]  # fmt: skip
            taps = {number - room.covered: _into(writer) for number, writer in zip(order.stages, writers, strict=True)}
            report.phase("rendering", job.patience_s)
            render(room.stages, room.input(), room.frames, job.block_frames, _nowhere, room.progress, taps)
            report.phase("writing", FILE_PATIENCE_S)
            for writer in writers:
                writer.commit(BroadcastTag("", "", ""))
        return tuple(files)
    finally:
        gc.collect()  # plugins of an earlier task must not pile up, nor end in another thread later


def _into(writer: WavWriter) -> Callable[[np.ndarray], None]:
    return writer.write


def _nowhere(block: np.ndarray) -> None:
    """What comes out at the end is not wanted."""
