"""A sound as the page plays it: 32-bit float WAV at the mix's rate. `make_playable` runs in workers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sweeper.audio import BroadcastTag, SoundFile, WavWriter, audio_hash, blocks, inspect
from sweeper.errors import AudioFileError
from sweeper.render.orders import FILE_BLOCK_FRAMES, FILE_PATIENCE_S
from sweeper.units import gain
from sweeper.workers import Report


@dataclass(frozen=True)
class PlayableOrder:
    """Write `source` to `target` at that rate. sha256: what its samples must be, "" = not known. gain_db: on the way."""

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
        for block in converted(file, order.rate_hz):
            writer.write(block * factor if order.gain_db else block)
            report.beat()
        writer.commit(BroadcastTag("", "", ""))
    return order.target


def converted(file: SoundFile, rate_hz: int) -> Iterator[np.ndarray]:
    """The blocks of a file, (channels, frames), at another rate; as they are where it has that rate.

    The conversion is linear in phase, so that nothing moves in time.
    """
    if file.format.rate_hz == rate_hz:
        yield from blocks(file, FILE_BLOCK_FRAMES)
        return
    import soxr

    stream = soxr.ResampleStream(file.format.rate_hz, rate_hz, file.format.channels, dtype="float32", quality="VHQ")
    for block in blocks(file, FILE_BLOCK_FRAMES):
        yield from _columns(stream.resample_chunk(np.ascontiguousarray(block.T)))
    yield from _columns(stream.resample_chunk(np.zeros((0, file.format.channels), np.float32), last=True))


def _columns(frames_first: np.ndarray) -> Iterator[np.ndarray]:
    if len(frames_first):
        yield np.ascontiguousarray(frames_first.T)
