"""Files measured for a picture: what is asked, what a worker does (`plot_file`), and what it gives back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sweeper import meter
from sweeper.audio import audio_hash, blocks, inspect
from sweeper.errors import AudioFileError, SweeperError
from sweeper.meter import curves
from sweeper.meter.curves import Curves
from sweeper.render.orders import Measured, Ranges
from sweeper.workers import Cause, Failed, Pool, Report, Task

BLOCK_FRAMES = 65536


@dataclass(frozen=True)
class PlotOrder:
    """Measure a file and the named frame ranges of it, and its curves, the envelope in so many columns."""

    file: Path
    sections: Ranges
    columns: int


@dataclass(frozen=True)
class Plotted:
    """A file with its measurements and what a picture of it shows."""

    measured: Measured
    curves: Curves


def plotted(orders: Sequence[PlotOrder], pool: Pool) -> list[Plotted]:
    """Measure every file, in order. Raises AudioFileError (or whatever ended the measuring) for the first bad one."""
    tasks = [Task(str(n), "sweeper.render.plotting:plot_file", order, order.file.name)
             for n, order in enumerate(orders)]  # fmt: skip
    found = []
    for order, outcome in zip(orders, pool.map_in_order(tasks), strict=True):
        if isinstance(outcome, Failed):
            if outcome.cause is Cause.ERROR and isinstance(outcome.error, SweeperError):
                raise outcome.error
            raise AudioFileError(f"measuring {order.file} {outcome.what}",
                                 "the file may be damaged; bounce it again as WAV")  # fmt: skip
        assert isinstance(outcome.value, Plotted)
        found.append(outcome.value)
    return found


def plot_file(order: PlotOrder, report: Report) -> Plotted:
    """Measure one file in one pass. Raises AudioFileError when it cannot be read or holds what is no sample."""
    report.phase(f"measuring {order.file.name}", 600.0)
    file = inspect(order.file)
    panel, shapes = meter.start(file.format, order.sections), curves.start(file.format, file.frames, order.columns)
    done = 0
    for block in blocks(file, BLOCK_FRAMES):
        panel, shapes = meter.advance(panel, block), curves.advance(shapes, block)
        done += block.shape[1]
        report.beat("", min(1.0, done / file.frames))
    measured = Measured(file, meter.finish(panel), audio_hash(file))
    return Plotted(measured, curves.finish(shapes, panel.whole.loudness))
