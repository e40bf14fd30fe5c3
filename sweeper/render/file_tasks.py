"""What workers do with whole files: measure one, copy one at another level, time a chain. Runs in workers."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np

from sweeper import meter
from sweeper.audio import audio_hash, blocks, inspect, write_gained
from sweeper.host.stage import HostedStage
from sweeper.render.orders import CopyOrder, Measured, MeasureOrder, TimeOrder
from sweeper.render.stream import render
from sweeper.render.task import chunk_frames
from sweeper.workers import Report


def measure_file(order: MeasureOrder, report: Report) -> Measured:
    """Measure one file. Raises AudioFileError when it cannot be read or holds a sample that is no number."""
    report.phase(f"measuring {order.file.name}", 600.0)
    file = inspect(order.file)
    panel = meter.start(file.format, order.sections)
    done = 0
    for block in blocks(file, 65536):
        panel = meter.advance(panel, block)
        done += block.shape[1]
        report.beat("", min(1.0, done / file.frames))
    return Measured(file, meter.finish(panel), audio_hash(file))


def copy_at_level(order: CopyOrder, report: Report) -> Path:
    """Write the listening copy. Raises AudioFileError or RunFolderError."""
    report.phase(f"writing {order.target.name}", 600.0)
    write_gained(order.source, order.target, order.gain_db, order.tag)
    return order.target


def time_chain(order: TimeOrder, report: Report) -> float:
    """The seconds that the stages take for the given length of noise, metering included."""
    stages = []
    for setup in order.stages:
        report.phase(f"loading and setting '{setup.name}' ({setup.path})", order.patience_s)
        stages.append(HostedStage(setup, order.format, order.block_frames, report.beat))
    report.phase("rendering noise", order.patience_s)
    rng = np.random.default_rng(0)
    size = chunk_frames(order.format.rate_hz, order.block_frames)
    count = max(1, round(order.duration_s * order.format.rate_hz / size))
    noise = [(rng.standard_normal((order.format.channels, size)) * 0.1).astype(np.float32) for _ in range(count)]
    panel = meter.start(order.format)

    def sink(block: np.ndarray) -> None:
        nonlocal panel
        panel = meter.advance(panel, block)

    def progress(stage: str, at_s: float) -> None:
        report.beat(f"{at_s:.1f} s of noise in {stage}")

    began = time.perf_counter()
    render(stages, noise, count * size, order.block_frames, sink, progress)
    return time.perf_counter() - began
