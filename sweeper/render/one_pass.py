"""A whole file through every meter, in one pass. Runs in workers."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from sweeper import meter
from sweeper.audio import SoundFile, blocks
from sweeper.meter.panel import Panel
from sweeper.render.orders import FILE_BLOCK_FRAMES, Ranges
from sweeper.workers import Report


def metered(file: SoundFile, sections: Ranges, report: Report,
            also: Callable[[np.ndarray], None] = lambda block: None) -> Panel:  # fmt: skip
    """Every meter after the file's last frame. also: gets each block, (channels, frames), too.

    Raises AudioFileError when it cannot be read or holds a sample that is no number.
    """
    panel = meter.start(file.format, sections)
    done = 0
    for block in blocks(file, FILE_BLOCK_FRAMES):
        panel = meter.advance(panel, block)
        also(block)
        done += block.shape[1]
        report.beat("", min(1.0, done / file.frames))
    return panel
