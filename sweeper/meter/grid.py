"""Cutting a stream on a fixed grid, so that how it arrives never changes what is measured."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

Samples = npt.NDArray[np.floating[Any]]
Doubles = npt.NDArray[np.float64]
SMALL_FRAMES = 2048


def nothing(channels: int) -> Samples:
    """An empty stretch, (channels, 0)."""
    return np.zeros((channels, 0), np.float32)


def carve(pending: Samples, block: Samples, step_frames: int) -> tuple[Samples, Samples]:
    """Join what was left over with what came; return the whole steps, and a copy of the rest.

    The whole steps may be a view of `block`: use them before returning to the caller.
    """
    joined = np.concatenate((pending, block), axis=1) if pending.shape[1] else block
    whole = joined.shape[1] // step_frames * step_frames
    return joined[:, :whole], joined[:, whole:].copy()


def kept(parts: tuple[Samples, ...], block: Samples) -> tuple[Samples, ...]:
    """The parts of what is waiting, and a copy of what came behind them; a last part that is small is joined to it."""
    if parts and parts[-1].shape[1] < SMALL_FRAMES:
        return (*parts[:-1], np.concatenate((parts[-1], block), axis=1))
    return (*parts, block.copy())


def frames_of(parts: tuple[Samples, ...]) -> int:
    """How many frames all parts have."""
    return sum(part.shape[1] for part in parts)
