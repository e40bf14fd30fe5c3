"""What each plugin instance of a stage hears, and how what comes back is put together again.

Mid is (L+R)/2 and side (L-R)/2, so that L = M+S and R = M-S. Signals are (channels, frames) float32.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from sweeper.chain.model import Channels


def taken_apart(block: np.ndarray, channels: Channels) -> dict[str, np.ndarray]:
    """What each side is: side -> (1, frames), or {"": block} for a stage on the whole signal.

    Sides that the stage leaves alone are there too.
    """
    if channels is Channels.STEREO:
        return {"": block}
    left, right = block[0:1], block[1:2]
    if channels is Channels.LEFT_RIGHT:
        return {"left": left, "right": right}
    half = np.float32(0.5)
    return {"mid": (left + right) * half, "side": (left - right) * half}


def put_together(sides: Mapping[str, np.ndarray], channels: Channels) -> np.ndarray:
    """The inverse of `taken_apart`: (channels, frames)."""
    if channels is Channels.STEREO:
        return sides[""]
    if channels is Channels.LEFT_RIGHT:
        return np.concatenate([sides["left"], sides["right"]])
    return np.concatenate([sides["mid"] + sides["side"], sides["mid"] - sides["side"]])


def widened(block: np.ndarray, channels: int) -> np.ndarray:
    """A block for a plugin that takes `channels`: one channel is fed to both inputs."""
    return np.repeat(block, channels, axis=0) if block.shape[0] == 1 else block


def narrowed(block: np.ndarray, channels: int) -> np.ndarray:
    """What a plugin made of a widened block: the mean of its outputs where one channel went in."""
    if channels == 1 and block.shape[0] == 2:
        mean: np.ndarray = (block[0:1] + block[1:2]) * np.float32(0.5)
        return mean
    return block
