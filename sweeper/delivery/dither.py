"""From samples to integer words: dither, noise shaping, rounding; the same words for the same seed, on any machine."""

from __future__ import annotations

import enum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweeper.audio import Word
from sweeper.delivery.shaping import feedback

Words = NDArray[np.int32]
Doubles = NDArray[np.float64]
#: Recorded with every print; the sequence is PCG64's own (numpy keeps its raw output for good), a stream a channel.
SEED = 20_161
#: 53 bits of a raw number as a share of 1.
_BITS_LEFT, _STEP = np.uint64(11), 2.0**-53


class Dither(enum.Enum):
    """How a word is made shorter.

    NONE: rounded. TPDF: triangular noise of two steps' width is added before it is rounded, which makes the error's
    mean and power independent of the signal (Lipshitz, Wannamaker and Vanderkooy, "Quantization and Dither: A
    Theoretical Survey", JAES 40(5), 1992). SHAPED: the same, and the error is fed back through a filter that moves it
    to where the ear is dull (`shaping`).
    """

    NONE = "none"
    TPDF = "tpdf"
    SHAPED = "shaped"


class Quantiser:
    """Makes words of a stream, block by block; how it is cut changes nothing.

    clipped: how many samples lay beyond what a word can hold, so far.
    """

    def __init__(self, word: Word, dither: Dither, channels: int, seed: int = SEED) -> None:
        self.clipped = 0
        self._full = word.words_to_full_scale
        self._dither = dither
        self._sources = [np.random.PCG64(np.random.SeedSequence([seed, channel])) for channel in range(channels)]
        self._errors = [np.zeros(feedback.size) for _ in range(channels)]

    def words(self, block: NDArray[np.floating[Any]]) -> Words:
        """The words of a block, (channels, frames), 1.0 = 0 dBFS."""
        steps = block.astype(np.float64) * self._full
        rows = [self._row(channel, row) for channel, row in enumerate(steps)]
        rounded = np.stack(rows) if rows else steps
        held = np.clip(rounded, -self._full, self._full - 1)
        self.clipped += int(np.count_nonzero(held != rounded))
        return held.astype(np.int32)

    def _row(self, channel: int, row: Doubles) -> Doubles:
        if self._dither is Dither.NONE:
            return np.floor(row + 0.5)
        noise = self._triangular(channel, row.size)
        if self._dither is Dither.TPDF:
            return np.asarray(np.floor(row + noise + 0.5))
        return feedback.shaped(row, noise, self._errors[channel], self._full)

    def _triangular(self, channel: int, count: int) -> Doubles:
        """Noise between -1 and 1 step: the sum of two even ones."""
        raw = self._sources[channel].random_raw(2 * count) >> _BITS_LEFT
        return np.asarray(raw.astype(np.float64).reshape(-1, 2).sum(axis=1) * _STEP - 1.0)
