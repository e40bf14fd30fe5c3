"""What workers do with whole files: measure one, copy one at another level, time a chain. Runs in workers."""

from __future__ import annotations

import secrets
import time
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from sweeper import meter
from sweeper.audio import AudioFormat, audio_hash, blocks, inspect, write_gained
from sweeper.host.setup import loading
from sweeper.host.stage import HostedStage
from sweeper.render.one_pass import metered
from sweeper.render.orders import FILE_PATIENCE_S, CopyOrder, Measured, MeasureOrder, StoreTimeOrder, TimeOrder
from sweeper.render.room import chunk_frames
from sweeper.render.store import open_entry, write_entry
from sweeper.render.stream import render
from sweeper.workers import Report


def measure_file(order: MeasureOrder, report: Report) -> Measured:
    """Measure one file. Raises AudioFileError when it cannot be read or holds a sample that is no number."""
    report.phase(f"measuring {order.file.name}", FILE_PATIENCE_S)
    file = inspect(order.file)
    panel = metered(file, order.sections, report)
    return Measured(file, meter.finish(panel), audio_hash(file))


def copy_at_level(order: CopyOrder, report: Report) -> Path:
    """Write the listening copy. Raises AudioFileError or RunFolderError."""
    report.phase(f"writing {order.target.name}", FILE_PATIENCE_S)
    write_gained(order.source, order.target, order.gain_db, order.tag)
    return order.target


def time_chain(order: TimeOrder, report: Report) -> float:
    """Seconds for a second of noise: inside the stages' plugins, or of everything else where there is no stage."""
    stages = []
    for setup in order.stages:
        report.phase(loading(setup), order.patience_s)
        stages.append(HostedStage(setup, order.format, order.block_frames, report.beat))
    report.phase("rendering noise", order.patience_s)
    size = chunk_frames(order.format.rate_hz, order.block_frames)
    noise = _noise(order.format, order.duration_s, size)
    panel = meter.start(order.format)
    meter.advance(panel, noise[0])  # the meters' machine code is made or read once in a process, which is not its speed

    def sink(block: np.ndarray) -> None:
        nonlocal panel
        panel = panel if stages else meter.advance(panel, block)

    def progress(stage: str, at_s: float) -> None:
        report.beat(f"{at_s:.1f} s of noise in {stage}")

    began = time.perf_counter()
    render(stages, noise, len(noise) * size, order.block_frames, sink, progress)
    return (time.perf_counter() - began) * order.format.rate_hz / (len(noise) * size)


def time_store(order: StoreTimeOrder, report: Report) -> float:
    """Seconds that storing, checking and reading a second of noise takes. Leaves nothing in the folder."""
    report.phase("storing noise", FILE_PATIENCE_S)
    noise = _noise(order.format, order.duration_s, order.format.rate_hz)
    key = secrets.token_hex(32)
    with TemporaryDirectory(prefix="trial-", dir=order.folder) as name:
        folder = Path(name)
        began = time.perf_counter()
        with write_entry(folder, key, order.format) as entry:
            for block in noise:
                entry.write(block)
            entry.commit((), (), 0.0)
        for _ in blocks(open_entry(folder, key).file, order.format.rate_hz):
            pass
        return (time.perf_counter() - began) / order.duration_s


def _noise(format: AudioFormat, duration_s: float, size: int) -> list[np.ndarray]:
    """Noise of about that length in chunks of `size` frames, at -20 dBFS, which falls by 3 dB an octave as music does.

    White noise would be no measure: looking between its samples for peaks takes ten times as long as in music.
    """
    count = max(1, round(duration_s * format.rate_hz / size))
    white = np.fft.rfft(np.random.default_rng(0).standard_normal((format.channels, count * size)))
    white[:, 0] = 0.0
    white[:, 1:] /= np.sqrt(np.arange(1, white.shape[1]))
    pink = np.fft.irfft(white, count * size)
    pink *= 0.1 / np.sqrt(np.square(pink).mean())
    return [pink[:, at : at + size].astype(np.float32) for at in range(0, count * size, size)]
