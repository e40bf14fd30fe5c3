"""Sounds on their way through a look inside a chain, kept in files: a minute at 192 kHz is too much to hold four of."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sweeper.audio import AudioFormat, BroadcastTag, SoundFile, WavWriter, blocks, inspect
from sweeper.render.link import Sink

NO_TAG = BroadcastTag("", "", "")


@dataclass(frozen=True)
class Take:
    """A sound in a file of a folder of takes."""

    file: SoundFile

    def blocks(self, frames: int, factor: float = 1.0) -> Iterator[np.ndarray]:
        """It in blocks of so many frames, (channels, frames) float32, times a factor."""
        for block in blocks(self.file, frames):
            yield block if factor == 1.0 else block * np.float32(factor)

    def drop(self) -> None:
        """It is not needed any more."""
        self.file.path.unlink()


class Recorder:
    """Makes takes of one length in a folder. Raises RunFolderError when the disk refuses."""

    def __init__(self, folder: Path, format: AudioFormat, frames: int) -> None:
        self.folder = folder
        self.format = format
        self.frames = frames
        self._count = 0

    def record(self, play: Callable[[Sink], object]) -> Take:
        """Keep the first `frames` of what `play` gives to the sink that it is handed."""
        self._count += 1
        path = self.folder / f"{self._count}.wav"
        with WavWriter(path, self.format.channels, self.format.rate_hz, lasting=False) as writer:

            def sink(block: np.ndarray) -> None:
                if writer.frames < self.frames:
                    writer.write(block[:, : self.frames - writer.frames])

            play(sink)
            writer.commit(NO_TAG)
        return Take(inspect(path))
