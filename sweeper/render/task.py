"""What a worker does with one variant: load, set, solve or render once, measure, write. Runs in workers."""

from __future__ import annotations

import gc
import hashlib
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

import numpy as np

from sweeper import meter
from sweeper.audio import AudioFormat, BroadcastTag, SoundFile, WavWriter, audio_hash, blocks, inspect
from sweeper.chain.model import TRIMS
from sweeper.errors import AudioFileError, PluginError
from sweeper.host.knob import Knob
from sweeper.host.setup import StageSetup, plugin_word
from sweeper.host.stage import HostedStage
from sweeper.quantities import Measurements
from sweeper.records import Source
from sweeper.render.job import Job, Rendered, Solved
from sweeper.render.recording import stage_record
from sweeper.render.solve import solve
from sweeper.render.stream import render
from sweeper.units import clock
from sweeper.workers import Report

#: How long a slow disk may take over a whole file.
FILE_PATIENCE_S = 600.0


def chunk_frames(rate_hz: int, block_frames: int) -> int:
    """How much audio goes through at a time: whole blocks, at most a second, so that life shows often."""
    return max(1, rate_hz // block_frames) * block_frames


@contextmanager
def placed(setup: StageSetup) -> Iterator[None]:
    """Puts the stage and its plugin in front of what a plugin error says."""
    try:
        yield
    except PluginError as exc:
        where = f"'{setup.name}' ({plugin_word(setup.path)})"
        raise type(exc)(f"stage {where}: {exc.what}", exc.remedy) from exc


class _Room:
    """One variant's stages and files in a worker."""

    def __init__(self, job: Job, report: Report) -> None:
        self.job = job
        self.report = report
        self.mix: SoundFile = inspect(job.mix)
        self.source = Source(str(job.mix), audio_hash(self.mix), self.mix.format.channels,
                             self.mix.format.rate_hz, self.mix.frames)  # fmt: skip
        self.stages = self._loaded()
        self.passes = 0
        self.notes: tuple[str, ...] = ()
        self.written: WavWriter | None = None
        self.measurements: Measurements | None = None
        self.digest = ""

    def _loaded(self) -> tuple[HostedStage, ...]:
        format = AudioFormat(self.mix.format.channels, self.mix.format.rate_hz)
        stages = []
        for setup in self.job.stages:
            self.report.phase(f"loading and setting '{setup.name}' ({setup.path})", self.job.patience_s)
            with placed(setup):
                stages.append(HostedStage(setup, format, self.job.block_frames, self.report.beat))
        return tuple(stages)

    def render(self) -> Measurements:
        """One full render into a new file, measured on the way; the file before it is dropped."""
        self.drop()
        job, mix = self.job, self.mix
        self.report.phase("rendering", job.patience_s)
        writer = WavWriter(job.target, mix.format.channels, mix.format.rate_hz).__enter__()
        self.written = writer
        panel = meter.start(AudioFormat(mix.format.channels, mix.format.rate_hz), job.sections)
        digest = hashlib.sha256()

        def sink(block: np.ndarray) -> None:
            nonlocal panel
            writer.write(block)
            panel = meter.advance(panel, block)
            digest.update(np.ascontiguousarray(block.T, "<f4").tobytes())

        source = blocks(mix, chunk_frames(mix.format.rate_hz, job.block_frames))
        self.notes = render(self.stages, source, mix.frames, job.block_frames, sink, self._progress)
        self.passes += 1
        self.digest = digest.hexdigest()
        self.measurements = meter.finish(panel)
        return self.measurements

    def _progress(self, stage: str, at_s: float) -> None:
        share = min(1.0, at_s * self.mix.format.rate_hz / self.mix.frames)
        self.report.beat(f"{clock(at_s)} in {stage}", share)

    def drop(self) -> None:
        """Throw away the file of the last render, unless it was committed."""
        if self.written is not None:
            self.written.__exit__(None, None, None)
            self.written = None

    def commit(self) -> None:
        """Give the last render its place, with its loudness in its metadata."""
        assert self.written is not None and self.measurements is not None
        self.report.phase("writing", FILE_PATIENCE_S)
        values = self.measurements.values
        tag = BroadcastTag(self.job.tag, self.job.date, self.job.time, values["loudness_lufs"],
                           values["loudness_range_lu"], values["true_peak_dbtp"],
                           values["momentary_max_lufs"], values["short_term_max_lufs"])  # fmt: skip
        self.written.commit(tag)


def render_variant(job: Job, report: Report) -> Rendered:
    """Render one variant into `job.target`, on its target where it has one.

    Raises PluginError, SettingError, StateError, AudioFileError or RunFolderError.
    """
    began = time.perf_counter()
    report.phase("reading the mix", FILE_PATIENCE_S)
    room = _Room(job, report)
    if room.mix.format.channels > 2:
        raise AudioFileError(f"{job.mix.name} has {room.mix.format.channels} channels",
                             "mono and stereo mixes can be mastered")  # fmt: skip
    try:
        solved = _solved(room)
        room.commit()
    finally:
        room.drop()
        gc.collect()  # plugins of an earlier variant must not pile up, nor end in another thread later
    assert room.measurements is not None
    drifted = tuple(f"{s.label}: {moved}" for s in room.stages if (moved := s.drift()))
    return Rendered(
        measurements=room.measurements, source=room.source, solved=solved,
        stages=tuple(stage_record(stage) for stage in room.stages), notes=room.notes + drifted,
        audio_sha256=room.digest, passes=room.passes,
        plugin_s=sum(stage.plugin_s for stage in room.stages), wall_s=time.perf_counter() - began,
    )  # fmt: skip


def _solved(room: _Room) -> Solved | None:
    order = room.job.reach
    if order is None:
        room.render()
        return None
    stage = room.stages[order.stage]
    with placed(stage.setup):
        knob = Knob(stage, order.setting, order.side)
        solved = solve(order, knob, room.render)
        if knob.name not in TRIMS:
            stage.confirm(knob.name)
    named = (stage.setup.name, order.side, knob.name)
    return replace(solved, setting=".".join(part for part in named if part))
