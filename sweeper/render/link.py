"""One stage at work in a stream: the queue before it, the checks of what it gives, the silence that flushes it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

import numpy as np

from sweeper.audio.format import AudioFormat
from sweeper.errors import PluginError
from sweeper.host import behaviour
from sweeper.host.fifo import Fifo
from sweeper.units import clock

Sink = Callable[[np.ndarray], None]
#: Called before a stage gets a chunk, with the stage's label and the second it has reached.
Progress = Callable[[str, float], None]
#: How much silence a plugin may need at the end before we say that it withholds audio.
MOST_FLUSH_S = 30.0


class Runs(Protocol):
    """What a link needs of what it runs: a stage, or the buses together."""

    format: AudioFormat

    @property
    def has_plugin(self) -> bool:
        """Whether it is one plugin's work, and to be watched as such."""
        ...

    @property
    def label(self) -> str:
        """As messages name it."""
        ...

    @property
    def tail_frames(self) -> int:
        """How much longer the sound gets in it."""
        ...

    def push(self, block: np.ndarray) -> np.ndarray:
        """Run whole blocks; what comes back is aligned, and shorter at first."""
        ...

    def notes(self) -> tuple[str, ...]:
        """What an engineer should know of what it runs inside."""
        ...


class Link:
    """One stage with the queue before it, and where its output goes. frames: how many it gives in all."""

    def __init__(self, stage: Runs, frames: int, block_frames: int, sinks: Sequence[Sink] = ()) -> None:
        self.stage = stage
        self.frames = frames
        self.block_frames = block_frames
        self.sinks = sinks
        self.queue = Fifo(stage.format.channels)
        self.given = 0
        self.pushed = 0
        self.watch = behaviour.start(stage.format.rate_hz, stage.tail_frames / stage.format.rate_hz)

    def feed(self, block: np.ndarray, progress: Progress) -> np.ndarray:
        """Take a block of any length; what can be given of it."""
        self.queue.add(block)
        whole = self.queue.frames // self.block_frames * self.block_frames
        return self._push(self.queue.take(whole), progress) if whole else _nothing(block)

    def flush(self, progress: Progress) -> list[np.ndarray]:
        """Feed silence until as many frames have come out as there are to come."""
        out = []
        channels = self.stage.format.channels
        if self.queue.frames:
            short = self.block_frames - self.queue.frames
            self.queue.add(np.zeros((channels, short), np.float32))
            out.append(self._push(self.queue.take(self.block_frames), progress))
        silence = np.zeros((channels, self.block_frames), np.float32)
        most = self.pushed + int(MOST_FLUSH_S * self.stage.format.rate_hz) + self.stage.tail_frames
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
        out = self.stage.push(block)[:, : self.frames - self.given]
        self._check(out)
        if self.stage.has_plugin:
            self.watch = behaviour.advance(self.watch, block, out)
        self.given += out.shape[1]
        for sink in self.sinks:
            sink(out)
        return out

    def notes(self) -> tuple[str, ...]:
        """What an engineer should know of the stage so far."""
        own = (f"{self.stage.label} {finding.words}" for finding in behaviour.finish(self.watch))
        return (*self.stage.notes(), *own)

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
