"""Cutting a stream on a fixed grid, so that how it arrives never changes what is measured."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from sweeper.meter.compiled import SUM_FRAMES

Samples = npt.NDArray[np.floating[Any]]
Doubles = npt.NDArray[np.float64]


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


def added(total: Doubles, parts: Doubles) -> Doubles:
    """total (n,) plus the columns of parts (n, k), one after the other in order of time."""
    sums: Doubles = np.cumsum(np.concatenate((total[:, None], parts), axis=1), axis=1)[:, -1]
    return sums


def products(left: Doubles, right: Doubles) -> Doubles:
    """Sums of left * right over each stretch of SUM_FRAMES; both (frames,), whole stretches, contiguous."""
    sums: Doubles = np.einsum("kf,kf->k", left.reshape(-1, SUM_FRAMES), right.reshape(-1, SUM_FRAMES))
    return sums


def padded(rest: Samples) -> Samples:
    """The rest of a stream with zeros up to a whole stretch; zeros add nothing to a sum."""
    return np.pad(rest, ((0, 0), (0, -rest.shape[1] % SUM_FRAMES)))
