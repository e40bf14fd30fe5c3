"""Files measured for a picture: what is asked, what a worker does (`plot_file`), and what it gives back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from sweeper import meter
from sweeper.audio import audio_hash, blocks, inspect
from sweeper.meter import curves
from sweeper.meter.curves import Curves
from sweeper.render.orders import Measured, Ranges
from sweeper.render.sources import not_measured
from sweeper.workers import Pool, Report, Task, value_of

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
    return [value_of(outcome, Plotted, partial(not_measured, order.file))
            for order, outcome in zip(orders, pool.map_in_order(tasks), strict=True)]  # fmt: skip


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
