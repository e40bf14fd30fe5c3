"""Files measured for a picture: what is asked, what a worker does (`plot_file`), and what it gives back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from sweeper import meter
from sweeper.audio import audio_hash, inspect
from sweeper.meter import curves, envelope
from sweeper.meter.curves import Curves
from sweeper.render.one_pass import metered
from sweeper.render.orders import FILE_PATIENCE_S, Measured, Ranges
from sweeper.render.sources import not_measured
from sweeper.workers import Pool, Report, Task, value_of


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
    report.phase(f"measuring {order.file.name}", FILE_PATIENCE_S)
    file = inspect(order.file)
    outline = envelope.start(file.format, file.frames, order.columns)

    def drawn(block: np.ndarray) -> None:
        nonlocal outline
        outline = envelope.advance(outline, block)

    panel = metered(file, order.sections, report, drawn)
    measured = Measured(file, meter.finish(panel), audio_hash(file))
    return Plotted(measured, curves.finish(outline, panel.whole.loudness, panel.whole.thirds))
