"""A chain at work: chunk by chunk through every stage, whole blocks only, aligned to the source.

A plugin that looks ahead gives its first output short. Pushed on as it is, the next plugin would get odd
blocks, and some sound different or wrong then; so a queue before each stage makes up whole blocks again. The
result equals rendering the whole file through one stage after another, to the bit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

import numpy as np

from sweeper.errors import PluginError
from sweeper.host.fifo import Fifo
from sweeper.host.stage import HostedStage
from sweeper.units import clock

Sink = Callable[[np.ndarray], None]
#: Called before a stage gets a chunk, with the stage's label and the second it has reached.
Progress = Callable[[str, float], None]
#: How much silence a plugin may need at the end before we say that it withholds audio.
MOST_FLUSH_S = 30.0


class _Link:
    """One stage with the queue before it, and where its output goes."""

    def __init__(self, stage: HostedStage, frames: int, block_frames: int, sinks: Sequence[Sink]) -> None:
        self.stage = stage
        self.frames = frames
        self.block_frames = block_frames
        self.sinks = sinks
        self.queue = Fifo(stage.format.channels)
        self.given = 0
        self.loudest_in = self.loudest_out = 0.0
        self.pushed = 0

    def feed(self, block: np.ndarray, progress: Progress) -> np.ndarray:
        self.queue.add(block)
        whole = self.queue.frames // self.block_frames * self.block_frames
        return self._push(self.queue.take(whole), progress) if whole else _nothing(block)

    def flush(self, progress: Progress) -> list[np.ndarray]:
        """Feed silence until as many frames have come out as the mix has."""
        out = []
        channels = self.stage.format.channels
        if self.queue.frames:
            short = self.block_frames - self.queue.frames
            self.queue.add(np.zeros((channels, short), np.float32))
            out.append(self._push(self.queue.take(self.block_frames), progress))
        silence = np.zeros((channels, self.block_frames), np.float32)
        most = self.pushed + int(MOST_FLUSH_S * self.stage.format.rate_hz)
        while self.given < self.frames:
            if self.pushed > most:
                raise PluginError(
                    f"{self.stage.label} keeps back audio: {self.frames - self.given} frames never came out",
                    "its delay is wrong or without end; bypass it, or ask its maker",
                )
            out.append(self._push(silence, progress))
        return out

    def _push(self, block: np.ndarray, progress: Progress) -> np.ndarray:
        progress(self.stage.label, self.pushed / self.stage.format.rate_hz)
        self.pushed += block.shape[1]
        self.loudest_in = max(self.loudest_in, _loudest(block))
        out = self.stage.push(block)[:, : self.frames - self.given]
        self._check(out)
        self.loudest_out = max(self.loudest_out, _loudest(out))
        self.given += out.shape[1]
        for sink in self.sinks:
            sink(out)
        return out

    def _check(self, out: np.ndarray) -> None:
        if np.isfinite(out.sum()) or np.isfinite(out).all():
            return
        channel, frame = np.argwhere(~np.isfinite(out))[0]
        at = clock((self.given + int(frame)) / self.stage.format.rate_hz)
        raise PluginError(
            f"{self.stage.label} gave {out[channel, frame]} instead of a sample, channel {channel + 1} at {at}",
            "such a sample mutes everything after it; change its settings, bypass it, or ask its maker",
        )


def _nothing(block: np.ndarray) -> np.ndarray:
    return block[:, :0]


def _loudest(block: np.ndarray) -> float:
    return float(np.abs(block).max()) if block.size else 0.0


def render(stages: Sequence[HostedStage], source: Iterable[np.ndarray], frames: int, block_frames: int, sink: Sink,
           progress: Progress, taps: Mapping[int, Sink] | None = None) -> tuple[str, ...]:  # fmt: skip
    """Render a source of `frames` frames through the stages, into `sink`, exactly as many frames.

    source: blocks of (channels, any number of frames) float32. sink: is called with (channels, frames)
    blocks in order. taps: stage number -> a sink for what that stage puts out (-1: for the source). Returns
    what an engineer should know of the render: stages that gave silence.
    Raises PluginError when a stage gives a sample that is no number, or keeps audio back.
    """
    taps = taps or {}
    for stage in stages:
        stage.reset()
    links = [_Link(stage, frames, block_frames, [taps[i]] if i in taps else []) for i, stage in enumerate(stages)]
    entry = taps.get(-1)
    for block in source:
        if entry is not None:
            entry(block)
        _onward(links, block, sink, progress)
    for number, link in enumerate(links):
        for block in link.flush(progress):
            _onward(links[number + 1 :], block, sink, progress)
    return tuple(
        f"{link.stage.label} put out silence" for link in links if link.loudest_in > 0 and not link.loudest_out
    )


def _onward(links: Sequence[_Link], block: np.ndarray, sink: Sink, progress: Progress) -> None:
    for link in links:
        block = link.feed(block, progress)
        if not block.shape[1]:
            return
    if block.shape[1]:
        sink(block)
