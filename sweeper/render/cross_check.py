"""An independent meter, to hold ours against."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from sweeper.audio import blocks, inspect
from sweeper.render.orders import FILE_BLOCK_FRAMES


def integrated_lufs(file: Path) -> float | None:
    """Integrated loudness of a file by pyloudnorm, with its filters designed as De Man's; None for silence.

    Raises AudioFileError. Holds the whole file in memory. Files shorter than 400 ms have none.
    """
    import pyloudnorm

    found = inspect(file)
    samples = np.concatenate(list(blocks(found, FILE_BLOCK_FRAMES)), axis=1)
    if found.frames < 0.4 * found.format.rate_hz:
        return None
    meter = pyloudnorm.Meter(found.format.rate_hz, filter_class="DeMan")
    value = float(meter.integrated_loudness(np.ascontiguousarray(samples.swapaxes(0, 1), np.float64)))
    return value if np.isfinite(value) else None
