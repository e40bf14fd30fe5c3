"""The buses at work: each fed with the same sound, their outputs added to it, aligned to the sample."""

from __future__ import annotations

import sys
from collections.abc import Sequence

import numpy as np

from sweeper.host.fifo import Fifo
from sweeper.host.stage import HostedStage
from sweeper.render.link import Link, Progress


class Buses:
    """Every bus of a chain that is heard. stages: those of all buses, each bus ending with its fader."""

    label = "the buses"
    has_plugin = False

    def __init__(self, stages: Sequence[HostedStage], block_frames: int, progress: Progress) -> None:
        self.format = stages[0].format
        self._progress = progress
        names = dict.fromkeys(stage.setup.bus for stage in stages)
        self._buses = [[Link(stage, sys.maxsize, block_frames) for stage in stages
                        if stage.setup.bus == name and not stage.setup.bypass] for name in names]  # fmt: skip
        self._came = [Fifo(self.format.channels) for _ in self._buses]
        self._dry = Fifo(self.format.channels)

    @property
    def tail_frames(self) -> int:
        """How much longer the sound gets on the bus where that is most."""
        return max(sum(link.stage.tail_frames for link in bus) for bus in self._buses)

    def push(self, block: np.ndarray) -> np.ndarray:
        """Run whole blocks through every bus; what comes back is aligned, and shorter while a delay fills."""
        self._dry.add(block)
        for bus, came in zip(self._buses, self._came, strict=True):
            part = block
            for link in bus:
                part = link.feed(part, self._progress)
                if not part.shape[1]:
                    break
            else:
                came.add(part)
        frames = min(self._dry.frames, *(came.frames for came in self._came))
        out = self._dry.take(frames)
        for came in self._came:
            out = out + came.take(frames)
        return out

    def notes(self) -> tuple[str, ...]:
        """What an engineer should know of the stages on the buses."""
        return tuple(note for bus in self._buses for link in bus for note in link.notes())
