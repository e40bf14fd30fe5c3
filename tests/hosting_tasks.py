"""What workers do for the tests with plugins: set, render whole and in a stream, compare."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sweeper.audio.format import AudioFormat
from sweeper.chain.model import Channels, Number
from sweeper.errors import SettingError
from sweeper.host.control import Control
from sweeper.host.described import Plugin
from sweeper.host.effect import open_effect
from sweeper.host.examine import describe
from sweeper.host.knob import Knob
from sweeper.host.resolve import resolve
from sweeper.host.settings import control_named
from sweeper.host.setup import StageSetup
from sweeper.host.stage import HostedStage
from sweeper.records import Applied, StageRecord
from sweeper.render.recording import stage_record
from sweeper.render.stream import render
from sweeper.workers import Report

STEREO = AudioFormat(2, 44100)


@dataclass(frozen=True)
class Clip:
    """Noise with bursts, from a seed, to be rendered in pieces of `chunk` frames."""

    stages: tuple[StageSetup, ...]
    frames: int = 44100 * 2 + 777
    chunk: int = 32768
    block: int = 1024
    format: AudioFormat = STEREO
    seed: int = 5
    level: float = 0.2


def clip_samples(clip: Clip) -> np.ndarray:
    """The clip's sound: noise whose level jumps every tenth of a second, so that detectors have to work."""
    rng = np.random.default_rng(clip.seed)
    steps = rng.uniform(0.1, 2.0, clip.frames // 4410 + 1).repeat(4410)[: clip.frames]
    noise = rng.standard_normal((clip.format.channels, clip.frames))
    return (noise * steps * clip.level).astype(np.float32)


def streamed(clip: Clip, report: Report) -> np.ndarray:
    """The clip through all stages, chunk by chunk."""
    samples = clip_samples(clip)
    stages = [HostedStage(setup, clip.format, clip.block) for setup in clip.stages]
    source = (samples[:, at : at + clip.chunk] for at in range(0, clip.frames, clip.chunk))
    out: list[np.ndarray] = []
    render(stages, source, clip.frames, clip.block, out.append, lambda stage, at_s: report.beat())
    return np.concatenate(out, axis=1)


def streamed_twice(clip: Clip, report: Report) -> tuple[np.ndarray, np.ndarray]:
    """The clip through the same stages, one render after the other."""
    stages = [HostedStage(setup, clip.format, clip.block) for setup in clip.stages]
    renders = []
    for _ in range(2):
        out: list[np.ndarray] = []
        render(stages, [clip_samples(clip)], clip.frames, clip.block, out.append, lambda stage, at_s: report.beat())
        renders.append(np.concatenate(out, axis=1))
    return renders[0], renders[1]


def notes(clip: Clip, report: Report) -> tuple[str, ...]:
    """What an engineer is told of a render of the clip."""
    stages = [HostedStage(setup, clip.format, clip.block) for setup in clip.stages]
    return render(stages, [clip_samples(clip)], clip.frames, clip.block, lambda block: None, lambda stage, at_s: None)


def streamed_and_whole(clip: Clip, report: Report) -> tuple[float, float, int]:
    """(largest difference to rendering the whole file stage after stage, level of the result, its frames)."""
    report.phase("rendering", 120)
    stream = streamed(clip, report)
    whole = clip_samples(clip)
    for setup in clip.stages:
        whole = _whole(setup, whole, clip)
    return float(np.abs(stream - whole).max()), float(np.abs(whole).max()), stream.shape[1]


def _whole(setup: StageSetup, samples: np.ndarray, clip: Clip) -> np.ndarray:
    """A stereo stage by the library's own whole-file call: one process(reset=True) on the padded file."""
    assert setup.channels is Channels.STEREO
    stage = HostedStage(setup, clip.format, clip.block)
    effect = stage.instances[0].effect
    plugin = getattr(effect, "_plugin", None) or effect._effect  # type: ignore[attr-defined]
    padded = np.pad(samples, ((0, 0), (0, -samples.shape[1] % clip.block + 64 * clip.block)))
    out: np.ndarray = plugin.process(padded, clip.format.rate_hz, buffer_size=clip.block, reset=True)
    return out[:, : samples.shape[1]]


def first_arrivals(clip: Clip, report: Report) -> tuple[int, int]:
    """An impulse at frame 5000 of both channels through the stages: where the largest sample comes out."""
    stages = [HostedStage(setup, clip.format, clip.block) for setup in clip.stages]
    samples = np.zeros((clip.format.channels, clip.frames), np.float32)
    samples[:, 5000] = 0.5
    out: list[np.ndarray] = []
    render(stages, [samples], clip.frames, clip.block, out.append, lambda stage, at_s: report.beat())
    whole = np.concatenate(out, axis=1)
    return int(np.abs(whole[0]).argmax()), int(np.abs(whole[-1]).argmax())


def drift(clip: Clip, report: Report) -> str:
    """What the clip's one stage says after a render of a setting that moved meanwhile."""
    stage = HostedStage(clip.stages[0], clip.format, clip.block)
    render([stage], [clip_samples(clip)], clip.frames, clip.block, lambda block: None, lambda stage, at_s: None)
    return stage.drift()


def applied(setup: StageSetup, report: Report) -> tuple[Applied, ...]:
    """The settings of a stage as read back."""
    return HostedStage(setup, STEREO, 1024).applied


def described(path: str | Path, report: Report) -> Plugin:
    """A plugin described, in 10 s at most."""
    report.phase("loading and describing", 10)
    return describe(open_effect(str(path)), str(path), 44100, 1024)


def turned(argument: tuple[StageSetup, str, float], report: Report) -> tuple[str, float, float, float]:
    """A knob turned: (unit, low, high, where it then stands)."""
    setup, name, value = argument
    knob = Knob(HostedStage(setup, STEREO, 1024), name, "")
    return knob.unit, knob.low, knob.high, knob.turn(value)


def recorded(argument: tuple[StageSetup, tuple[tuple[str, float], ...]], report: Report) -> StageRecord:
    """The record of a stage, after some of its knobs were turned: (name, value) each."""
    setup, turned = argument
    stage = HostedStage(setup, STEREO, 1024)
    for name, value in turned:
        Knob(stage, name, "").turn(value)
    return stage_record(stage)


def recorded_after_a_render(clip: Clip, report: Report) -> StageRecord:
    """The record of the clip's one stage once the clip has gone through it."""
    stage = HostedStage(clip.stages[0], clip.format, clip.block)
    render([stage], [clip_samples(clip)], clip.frames, clip.block, lambda block: None, lambda stage, at_s: None)
    return stage_record(stage)


def saved_state(argument: tuple[StageSetup, Path], report: Report) -> None:
    """A stage's state written to a file after silence has settled it."""
    setup, path = argument
    stage = HostedStage(setup, STEREO, 1024)
    stage.instances[0].silence()
    path.write_bytes(stage.instances[0].effect.save_state())  # type: ignore[attr-defined]


def standing(setup: StageSetup, report: Report) -> dict[str, str]:
    """Every control of the engineer's of a stage's first instance: name -> text."""
    stage = HostedStage(setup, STEREO, 1024)
    controls = stage.instances[0].effect.controls
    return {control.name: control.text_at(control.raw()) for control in controls if control.settable}


def refused(argument: tuple[str, str, tuple[str, ...]], report: Report) -> list[str]:
    """Which of the values (numbers in the control's own unit) a control of a plugin refuses."""
    path, name, values = argument
    effect = open_effect(path)
    control = control_named(effect.controls, name)
    return [text for text in values if not _takes(control, text)]


def _takes(control: Control, text: str) -> bool:
    try:
        resolve(control, Number(float(text), "", text))
    except SettingError:
        return False
    return True
