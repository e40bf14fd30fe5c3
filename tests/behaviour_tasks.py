"""What workers do for the tests of behaviour: plugins in extreme settings on excerpts, watched; and its cost."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile

from sweeper.audio.format import AudioFormat
from sweeper.chain.model import Channels
from sweeper.errors import PluginError
from sweeper.host import behaviour
from sweeper.host.finding import Finding
from sweeper.host.setup import StageSetup
from sweeper.host.stage import HostedStage
from sweeper.render.trial import rendered_alone
from sweeper.workers import Report

RATE_HZ, BLOCK = 44100, 43 * 1024


@dataclass(frozen=True)
class Watched:
    """A plugin on excerpts of `seconds`, with its controls as they are (draw 0) or drawn at random (others).

    An odd draw puts a third of them to either end.
    """

    path: str
    tracks: tuple[Path, ...]
    seconds: float
    draws: tuple[int, ...]


@dataclass(frozen=True)
class Shown:
    draw: int
    track: str
    findings: tuple[Finding, ...]


def watched(order: Watched, report: Report) -> list[Shown]:
    """What the watcher says of every draw on every track."""
    report.phase("rendering", 120)
    shown = []
    for draw in order.draws:
        stage = _stage(order.path)
        if draw:
            _draw(stage, np.random.default_rng(draw))
        for track in order.tracks:
            data, _ = soundfile.read(track, start=20 * RATE_HZ, frames=round(order.seconds * RATE_HZ), dtype="float32")
            music = np.ascontiguousarray(data.T)
            watch = behaviour.advance(behaviour.start(RATE_HZ), music, rendered_alone(stage, music, 1024, report))
            shown.append(Shown(draw, track.stem, behaviour.finish(watch)))
    return shown


def _stage(path: str) -> HostedStage:
    for channels in (Channels.STEREO, Channels.LEFT_RIGHT):
        try:
            return HostedStage(StageSetup("stage", path, None, channels, ()), AudioFormat(2, RATE_HZ), 1024)
        except PluginError as exc:
            refusal = exc
    raise refusal


def _draw(stage: HostedStage, chance: np.random.Generator) -> None:
    drawn: dict[str, float] = {}
    for instance in stage.instances:
        for control in instance.effect.controls:
            if control.settable:
                position = float(chance.choice([chance.uniform(), 0.0, 1.0]))
                control.put(drawn.setdefault(control.name, position))
        instance.silence()


def cost(music: np.ndarray, blocks: Sequence[int] = (BLOCK,)) -> float:
    """Seconds of work for a second of music, the least of several tries."""
    tries = []
    out = music * np.float32(0.5)
    for _ in range(5):
        watch = behaviour.start(RATE_HZ)
        began = time.process_time()
        for at in range(0, music.shape[1], blocks[0]):
            watch = behaviour.advance(watch, music[:, at : at + blocks[0]], out[:, at : at + blocks[0]])
        tries.append((time.process_time() - began) * RATE_HZ / music.shape[1])
    return min(tries)
