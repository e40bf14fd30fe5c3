"""A louder or quieter copy of a sound file, sample for sample."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from sweeper.audio.broadcast import BroadcastTag, moved, read_tag
from sweeper.audio.files import blocks, inspect
from sweeper.audio.wav import WavWriter
from sweeper.units import gain

BLOCK_FRAMES = 65536


def write_gained(source: Path, target: Path, gain_db: float, tag: BroadcastTag | None = None) -> None:
    """Write `source` with `gain_db` applied to `target`, a 32-bit float WAV: no dither, no clipping.

    A gain of 0 dB leaves every sample bit-identical (integers become the floats they stand for).
    tag: None = the source's own, its levels moved by the gain. Raises AudioFileError for the source and
    RunFolderError for the target, which is never overwritten.
    """
    file = inspect(source)
    factor = np.float32(gain(gain_db))
    tag = tag or moved(read_tag(source) or BroadcastTag("", "", ""), gain_db)
    with WavWriter(target, file.format.channels, file.format.rate_hz) as writer:
        for block in blocks(file, BLOCK_FRAMES):
            writer.write(block if factor == 1 else block * factor)
        writer.commit(tag)
