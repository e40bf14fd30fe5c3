"""What a worker tries on a stage before a run: the delay that is left, and how it behaves, on noise."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sweeper.audio import AudioFormat
from sweeper.chain.model import BLEND
from sweeper.host import behaviour
from sweeper.host.finding import Finding
from sweeper.host.instance import delay_frames
from sweeper.host.routing import taken_apart
from sweeper.host.setup import StageSetup, loading
from sweeper.host.stage import HostedStage
from sweeper.meter.lateness import Lateness, lateness
from sweeper.render.room import chunk_frames, placed
from sweeper.render.stream import render
from sweeper.render.trial_orders import TrialOrder, Tried
from sweeper.units import gain
from sweeper.workers import Report

#: Loud noise shows the delay, as it works; soft noise shows what is added to it: less of it where a plugin is so slow
#: that it would take more than half a second.
LOUD_S, LOUD_DBFS = 1.5, -20.0
LEAST_SOFT_S, SOFT_S, SOFT_DBFS = 0.5, 4.5, -45.0
SOFT_TAKES_S = 0.5
#: A delay that is not taken out is looked for so far.
MOST_LATE_S = 0.5


def try_stage(order: TrialOrder, report: Report) -> Tried:
    """Noise through a stage: what delay is left, and what it does that is not meant.

    Its blend and rides are left out, for they would hide a delay. Raises PluginError, SettingError or StateError.
    """
    setup = _alone(order.setup)
    report.phase(loading(setup), order.patience_s)
    with placed(setup):
        stage = HostedStage(setup, order.format, order.block_frames, report.beat)
        report.phase("rendering noise", order.patience_s)
        loud = _noise(order.format, LOUD_S, LOUD_DBFS)
        came = rendered_alone(stage, loud, order.block_frames, report)
        reported = stage.latency_frames
        soft_s = min(SOFT_S, max(LEAST_SOFT_S, SOFT_TAKES_S * LOUD_S / max(stage.plugin_s, 1e-6)))
        soft = _noise(order.format, soft_s, SOFT_DBFS)
        soft_came = rendered_alone(stage, soft, order.block_frames, report)
        findings = _seen(stage, loud, came) + _on_soft(stage, soft, soft_came)
    late = _lateness(stage, loud, came)
    declared = delay_frames(setup.latency, order.format.rate_hz)
    return Tried(reported, reported if declared is None else declared, late.frames if late else None,
                 bool(late and late.inverted), _each_once(findings))  # fmt: skip


def _alone(setup: StageSetup) -> StageSetup:
    settings = tuple(dialled for dialled in setup.settings if dialled.name != BLEND)
    return replace(setup, settings=settings, blend=1.0, rides=(), bus="")


def rendered_alone(stage: HostedStage, sound: np.ndarray, block_frames: int, report: Report) -> np.ndarray:
    """What a stage makes of a sound after a reset, as long as the sound; (channels, frames) float32."""
    out: list[np.ndarray] = []
    size = chunk_frames(stage.format.rate_hz, block_frames)
    parts = (sound[:, at : at + size] for at in range(0, sound.shape[1], size))

    def progress(label: str, at_s: float) -> None:
        report.beat(f"{at_s:.1f} s in {label}")

    render([stage], parts, sound.shape[1], block_frames, out.append, progress)
    return np.concatenate(out, axis=1)[:, : sound.shape[1]]


def _lateness(stage: HostedStage, went_in: np.ndarray, came_out: np.ndarray) -> Lateness | None:
    """That of the plugin instance which is furthest off; None where one cannot be told."""
    channels = stage.setup.channels
    ours, theirs = taken_apart(went_in, channels), taken_apart(came_out, channels)
    most = round(MOST_LATE_S * stage.format.rate_hz)
    found = [lateness(ours[side], theirs[side], most) for side in channels.sides]
    told = [late for late in found if late is not None]
    return max(told, key=lambda late: abs(late.frames)) if len(told) == len(found) else None


def _seen(stage: HostedStage, went_in: np.ndarray, came_out: np.ndarray) -> tuple[Finding, ...]:
    watch = behaviour.start(stage.format.rate_hz, stage.setup.tail_s)
    return behaviour.finish(behaviour.advance(watch, went_in, came_out))


def _on_soft(stage: HostedStage, went_in: np.ndarray, came_out: np.ndarray) -> tuple[Finding, ...]:
    """Soft noise a gate may rightly keep back, and a stage may leave alone."""
    return tuple(f for f in _seen(stage, went_in, came_out) if f.kind not in ("silent", "dry"))


def _each_once(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """One of each kind; what put out bursts did not leave its input as it was."""
    found = {finding.kind: finding for finding in findings}
    return tuple(finding for finding in found.values() if finding.kind != "dry" or len(found) == 1)


def _noise(format: AudioFormat, duration_s: float, level_dbfs: float) -> np.ndarray:
    """White noise, channels unrelated, the same each time; (channels, frames) float32."""
    noise = np.random.default_rng(0).standard_normal((format.channels, round(duration_s * format.rate_hz)))
    return (noise * gain(level_dbfs)).astype(np.float32)
