"""A mix long enough for excerpts: noise with beats in parts of different loudness."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile

#: The levels of the parts, 8 s each, over and over.
LEVELS = (0.03, 0.12, 0.05, 0.2, 0.09, 0.16, 0.02, 0.14)


def parts(path: Path, seconds: int, rate_hz: int = 8000, seed: int = 5) -> Path:
    """So many seconds of it, stereo, correlated between the channels; 24-bit WAV."""
    drawn = np.random.default_rng(seed)
    levels = np.repeat(np.resize(LEVELS, -(-seconds // 8)), 8 * rate_hz)[: seconds * rate_hz]
    beat = np.exp(-((np.arange(levels.size) % (rate_hz // 2)) / (0.1 * rate_hz))) + 0.25
    centre = drawn.standard_normal((levels.size, 1))
    samples = (centre + 0.4 * drawn.standard_normal((levels.size, 2))) * (levels * beat)[:, None]
    soundfile.write(path, np.clip(samples, -0.98, 0.98), rate_hz, subtype="PCM_24")
    return path
