"""What a stretch of audio is, apart from its samples."""

from __future__ import annotations

import enum
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class AudioFormat:
    """channels: how many. rate_hz: frames per second.

    full_scale: the amplitude of the highest sample the file can hold: 1.0 for float files and lossy
    ones, (2^(n-1) - 1) / 2^(n-1) for n-bit integers. Samples are (channels, frames) everywhere.
    """

    channels: int
    rate_hz: int
    full_scale: float = 1.0


class Word(enum.Enum):
    """What one sample is in a file without loss."""

    PCM_16 = 16
    PCM_24 = 24
    FLOAT_32 = 32

    @property
    def sample_bytes(self) -> int:
        """Bytes of one sample."""
        return self.value // 8

    @property
    def words_to_full_scale(self) -> int:
        """How many steps an integer word has up to 1.0: 2^15 for 16 bits."""
        return 1 << (self.value - 1)

    @property
    def text(self) -> str:
        """As people write it."""
        return "32-bit float" if self is Word.FLOAT_32 else f"{self.value} bit"

    def floats(self, words: NDArray[np.int32]) -> NDArray[np.float32]:
        """What integer words stand for, exactly."""
        return words.astype(np.float32) / np.float32(self.words_to_full_scale)
