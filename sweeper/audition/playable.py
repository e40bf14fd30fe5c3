"""A sound as the page plays it: 32-bit float WAV at the mix's rate. `make_playable` runs in workers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sweeper.audio import BroadcastTag, SoundFile, WavWriter, audio_hash, blocks, inspect
from sweeper.audio.converting import converted
from sweeper.errors import AudioFileError
from sweeper.meter.grid import Doubles, Samples
from sweeper.render.orders import FILE_BLOCK_FRAMES, FILE_PATIENCE_S
from sweeper.units import gain
from sweeper.workers import Report


@dataclass(frozen=True)
class PlayableOrder:
    """Write `source` to `target` at that rate. sha256: of its samples, "" = not known. gain_db: applied."""

    source: Path
    target: Path
    rate_hz: int
    sha256: str
    gain_db: float = 0.0


def is_playable(file: SoundFile, rate_hz: int) -> bool:
    """Whether the page can play the file as it is."""
    return file.container in ("WAV", "WAVEX", "RF64") and file.encoding == "FLOAT" and file.format.rate_hz == rate_hz


def make_playable(order: PlayableOrder, report: Report) -> Path:
    """Write the copy. Raises AudioFileError when the source cannot be read, has changed since the run, or has more
    than two channels; RunFolderError when the disk refuses."""
    report.phase(f"reading {order.source.name}", FILE_PATIENCE_S)
    file = inspect(order.source)
    if file.format.channels > 2:
        raise AudioFileError(f"{order.source} has {file.format.channels} channels", "the page plays mono and stereo")
    if order.sha256 and audio_hash(file) != order.sha256:
        raise AudioFileError(f"{order.source} has changed since the run was made", "put back the file that it was")
    factor = np.float32(gain(order.gain_db))
    with WavWriter(order.target, file.format.channels, order.rate_hz, lasting=False) as writer:
        for block in at_rate(file, order.rate_hz):
            writer.write(block * factor if order.gain_db else block)
            report.beat()
        writer.commit(BroadcastTag("", "", ""))
    return order.target


def at_rate(file: SoundFile, rate_hz: int) -> Iterator[Samples]:
    """The blocks of a file, (channels, frames), at another rate; as they are where it has that rate."""
    stream = blocks(file, FILE_BLOCK_FRAMES)
    if file.format.rate_hz == rate_hz:
        return stream
    return singles(converted(stream, file.format.channels, file.format.rate_hz, rate_hz, file.frames))


def singles(stream: Iterator[Doubles]) -> Iterator[Samples]:
    """The blocks in 32-bit float, as they are played."""
    return (block.astype(np.float32) for block in stream)
