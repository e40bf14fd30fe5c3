"""One plugin instance at work: fed whole blocks, aligned by the delay that it has. Imported in workers only."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from sweeper.audio.format import AudioFormat
from sweeper.chain.model import Number
from sweeper.errors import PluginError
from sweeper.host.effect import Effect, channels_of, open_effect, settle
from sweeper.host.fifo import Fifo
from sweeper.host.riding import RiddenControl
from sweeper.host.routing import narrowed, widened
from sweeper.host.setup import StageSetup


class Instance:
    """One plugin instance of a stage, on the whole signal ("") or on one side of it.

    The library takes out the delay that a plugin reports. Where the chain file says another, the difference is made up
    for here: frames are dropped from what comes out, or silence goes in before the mix, so that not one is lost.
    """

    def __init__(self, setup: StageSetup, side: str, format: AudioFormat, block_frames: int) -> None:
        self.side = side
        self.rate_hz = format.rate_hz
        self._block_frames = block_frames
        self._delay = delay_frames(setup.latency, format.rate_hz)
        self.effect: Effect = open_effect(setup.path, setup.state, alone=bool(setup.instances))
        self.takes = channels_of(self.effect, format.rate_hz, block_frames)
        self.heard = 1 if side else format.channels
        if self.heard > self.takes:
            raise PluginError(
                f"{self.effect.name} takes one channel, the mix has two",
                "give the stage `channels: left/right`, `mid/side`, `mid` or `side`, or use a stereo plugin",
            )
        self.ridden: tuple[RiddenControl, ...] = ()
        self.settling_blocks = 0
        self._begin()

    def _begin(self) -> None:
        self.reported_frames = self.effect.latency_frames
        off = 0 if self._delay is None else self._delay - self.reported_frames
        self._ahead, self._drop = max(0, -off), max(0, off)
        self._queue = Fifo(self.heard)
        self._queue.add(np.zeros((self.heard, self._ahead), np.float32))
        self._fed = 0

    def reset(self) -> None:
        """Forget all audio, ready for a render."""
        self.effect.reset()
        self._begin()
        self._settle_in()

    def _settle_in(self) -> None:
        """Silence for a plugin that takes its time: a reset makes it anew, and it goes to its settings again.

        settling_blocks: how much it took when they were made. What it owes for its delay is dropped later.
        """
        silence = np.zeros((self.takes, self._block_frames), np.float32)
        for _ in range(self.settling_blocks):
            self._drop += self._block_frames - self.effect.process(silence, self.rate_hz, self._block_frames).shape[1]

    def silence(self) -> None:
        """Run one block of silence."""
        settle(self.effect, self.takes, self.rate_hz, self._block_frames)

    def process(self, block: np.ndarray) -> np.ndarray:
        """Run (channels, frames), frames a multiple of the block size; may give less back at first."""
        if self._ahead:
            self._queue.add(block)
            block = self._queue.take(self._queue.frames // self._block_frames * self._block_frames)
        out = self._ridden(block) if self.ridden else self._run(block)
        if self._drop and out.shape[1]:
            dropped = min(self._drop, out.shape[1])
            self._drop -= dropped
            out = out[:, dropped:]
        return out

    def _run(self, block: np.ndarray) -> np.ndarray:
        self._fed += block.shape[1]
        fed = np.ascontiguousarray(widened(block, self.takes), np.float32)
        return narrowed(self.effect.process(fed, self.rate_hz, self._block_frames), self.heard)

    def _ridden(self, block: np.ndarray) -> np.ndarray:
        """Block by block, every ridden control put in its place before each.

        In a plugin with a delay one setting acts on what goes in, another on what comes out a delay later, and nobody
        tells which. So each is where a stretch wants it for both: there in time, and not gone too early.
        """
        delay = self.reported_frames if self._delay is None else self._delay
        out = []
        for at in range(0, block.shape[1], self._block_frames):
            first = self._fed - self._ahead - delay
            for control in self.ridden:
                control.ride(first, first + delay + self._block_frames)
            out.append(self._run(block[:, at : at + self._block_frames]))
        return np.concatenate(out, axis=1) if out else block

    def home(self, run_silence: Callable[[], None]) -> None:
        """Put every ridden control back to where it stands outside its rides."""
        astray = [control for control in self.ridden if control.home()]
        if astray:
            run_silence()


def delay_frames(latency: Number | None, rate_hz: int) -> int | None:
    """A delay as the chain file has it, in frames; None where it has none."""
    if latency is None:
        return None
    return round(latency.value * rate_hz / 1000 if latency.unit == "ms" else latency.value)
