"""The loop that is heard while dialling: a stretch of the mix behind the stages before. Runs in workers."""

from __future__ import annotations

import numpy as np
from scipy import signal

from sweeper.audio import AudioFormat, BroadcastTag, SoundFile, WavWriter, blocks, inspect
from sweeper.dial.orders import Loop, LoopOrder
from sweeper.dial.stretch import LOOP_S, checked_span_s
from sweeper.host.setup import StageSetup, loading
from sweeper.host.stage import HostedStage
from sweeper.meter.k_weighting import k_filter
from sweeper.meter.loudest import loudest_start
from sweeper.render.orders import FILE_PATIENCE_S
from sweeper.render.room import chunk_frames, placed
from sweeper.render.stream import render
from sweeper.units import clock
from sweeper.workers import Report, keep

#: How finely the loudest stretch is placed.
_STEP_S = 0.1


def render_loop(order: LoopOrder, report: Report) -> Loop:
    """Render from the mix's start to the loop's end, as a run would, and keep what is in the loop.

    Raises AudioFileError, PluginError, SettingError or StateError.
    """
    report.phase("looking for the loop", FILE_PATIENCE_S)
    mix = inspect(order.mix)
    format = AudioFormat(mix.format.channels, mix.format.rate_hz)
    start_s, end_s = checked_span_s(order.span_s or _loudest_span_s(mix, report), mix.duration_s, order.mix.name)
    first, end = round(start_s * format.rate_hz), min(round(end_s * format.rate_hz), mix.frames)
    stages = [_hosted(setup, format, order, report) for setup in order.stages]
    report.phase("rendering the loop", order.patience_s)
    with WavWriter(order.target, format.channels, format.rate_hz, lasting=False) as writer:
        at = 0

        def sink(block: np.ndarray) -> None:
            nonlocal at
            inside = block[:, max(0, first - at) : max(0, end - at)]
            if inside.shape[1]:
                writer.write(inside)
            at += block.shape[1]

        def progress(stage: str, at_s: float) -> None:
            report.beat(f"{clock(at_s)} in {stage}", min(1.0, at_s * format.rate_hz / end))

        source = blocks(mix, chunk_frames(format.rate_hz, order.block_frames), 0, end)
        notes = render(stages, source, end, order.block_frames, sink, progress)
        writer.commit(BroadcastTag("", "", ""))
    return Loop(order.target, start_s, end_s, notes)


def _hosted(setup: StageSetup, format: AudioFormat, order: LoopOrder, report: Report) -> HostedStage:
    report.phase(loading(setup), order.patience_s)
    with placed(setup):
        stage = HostedStage(setup, format, order.block_frames, report.beat)
    keep(stage)
    return stage


def _loudest_span_s(mix: SoundFile, report: Report) -> tuple[float, float]:
    """The 20 s with the most K-weighted power."""
    rate_hz = mix.format.rate_hz
    sections, step = k_filter(rate_hz), round(_STEP_S * rate_hz)
    memory = np.zeros((len(sections), mix.format.channels, 2))
    powers = []
    for block in blocks(mix, step):
        weighted, memory = signal.sosfilt(sections, block, axis=1, zi=memory)
        powers.append(float(np.square(weighted).sum()))
        report.beat("", min(1.0, len(powers) * step / mix.frames))
    start_s = loudest_start(np.asarray(powers), round(LOOP_S / _STEP_S)) * step / rate_hz
    return start_s, start_s + LOOP_S
