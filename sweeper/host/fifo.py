"""A queue of audio: what a latent plugin gives short is made up to whole blocks before it goes on."""

from __future__ import annotations

from collections import deque

import numpy as np


class Fifo:
    """Holds (channels, frames) float32 in order."""

    def __init__(self, channels: int) -> None:
        self._channels = channels
        self._parts: deque[np.ndarray] = deque()
        self.frames = 0

    def add(self, block: np.ndarray) -> None:
        """Append a block; an empty one is ignored."""
        if block.shape[1]:
            self._parts.append(block)
            self.frames += block.shape[1]

    def take(self, frames: int) -> np.ndarray:
        """Remove exactly `frames` from the front. Raises ValueError when there are fewer."""
        if frames > self.frames:
            raise ValueError(f"{frames} frames wanted, {self.frames} held")
        if self._parts and self._parts[0].shape[1] == frames:
            self.frames -= frames
            return self._parts.popleft()
        out = np.empty((self._channels, frames), np.float32)
        filled = 0
        while filled < frames:
            part = self._parts.popleft()
            used = min(part.shape[1], frames - filled)
            out[:, filled : filled + used] = part[:, :used]
            if used < part.shape[1]:
                self._parts.appendleft(part[:, used:])
            filled += used
        self.frames -= frames
        return out
