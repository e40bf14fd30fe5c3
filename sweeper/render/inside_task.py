"""Looking inside a chain as one variant has it, in a task of its own. Runs in workers."""

from __future__ import annotations

import gc
import time
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

import scipy.optimize  # with the next before a plugin's patience begins to count
import scipy.signal  # noqa: F401

from sweeper.audio import AudioFormat, SoundFile, blocks
from sweeper.host.setup import StageSetup
from sweeper.host.stage import HostedStage
from sweeper.meter import passage
from sweeper.render.bench import Bench, BenchOrder
from sweeper.render.inside import BYPASSED, RIDES_REST, Inside, InsideOrder, Seen
from sweeper.render.job import Look
from sweeper.render.orders import FILE_PATIENCE_S
from sweeper.render.room import Room
from sweeper.render.takes import Recorder
from sweeper.workers import Report


def look_inside(order: InsideOrder, report: Report) -> Inside:
    """Look at what the order names. Raises as Room does, and RunFolderError when a temporary file cannot be written."""
    began = time.perf_counter()
    try:
        room = Room(order.at_rest(), report)
        first, last = passage_of(room.mix, room.format, order.most_s, report)
        bench = BenchOrder(order.looks, room.covered, order.block_frames, order.patience_s)
        seen = on_bench(bench, room.stages, room.entry.file if room.entry else room.mix, (first, last), report,
                        order.folder)
        every = tuple(seen.get(number, _bypassed(order.stages, look)) for number, look in enumerate(order.looks))
        notes = (RIDES_REST,) if any(setup.rides for setup in order.stages) else ()
        rate_hz = room.format.rate_hz
        return Inside(first / rate_hz, last / rate_hz, every, notes, room.plugin_s, time.perf_counter() - began)
    finally:
        gc.collect()  # plugins of an earlier task must not pile up, nor end in another thread later


def passage_of(mix: SoundFile, format: AudioFormat, most_s: int, report: Report) -> tuple[int, int]:
    """First and last (not included) frame of the passage to look at, found in the mix."""
    report.phase("choosing a passage", FILE_PATIENCE_S)
    search = passage.start(format)
    for block in blocks(mix, format.rate_hz):
        search = passage.advance(search, block)
        report.beat()
    return passage.finish(search, most_s)


def on_bench(bench: BenchOrder, stages: Sequence[HostedStage], file: SoundFile, span: tuple[int, int],
             report: Report, place: Path | None) -> dict[int, Seen]:  # fmt: skip
    """What the looks found in a stretch of a file, first and last (not included) frame; by their numbers.

    Looks at bypassed stages find nothing. place: where takes may lie meanwhile, None = the system's place for it.
    """
    format = AudioFormat(file.format.channels, file.format.rate_hz)
    with TemporaryDirectory(prefix=".inside.part-", dir=place) as folder:
        held = Bench(bench, stages, Recorder(Path(folder), format, span[1] - span[0]), report)
        held.walk(file, *span)
        return held.seen


def _bypassed(stages: Sequence[StageSetup], look: Look) -> Seen:
    name = "" if look.stage is None else stages[look.stage].name
    return Seen(look.stage, name, None, None, None, None, (BYPASSED,))
