"""Rate conversion of a stream by the library soxr, in its best quality."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

#: soxr's best: 28 bits, linear phase. In double precision throughout.
QUALITY = "VHQ"
Doubles = NDArray[np.float64]


def converted_frames(frames: int, rate_hz: int, wanted_hz: int) -> int:
    """How many frames `frames` become: the same time, to the nearest frame."""
    return (frames * wanted_hz * 2 + rate_hz) // (rate_hz * 2)


def converted(
    blocks: Iterable[NDArray[np.floating[Any]]], channels: int, rate_hz: int, wanted_hz: int, frames: int
) -> Iterator[Doubles]:
    """The stream of `frames` frames at another rate: float64 blocks, (channels, frames), as they come.

    Aligned in time: the converter's delay is taken out, what lies before and after the stream is silence. The same rate
    gives the same samples. `converted_frames` says how many come.
    """
    if rate_hz == wanted_hz:
        yield from (block.astype(np.float64) for block in blocks)
        return
    import soxr

    stream = soxr.ResampleStream(rate_hz, wanted_hz, channels, dtype="float64", quality=QUALITY)
    left = converted_frames(frames, rate_hz, wanted_hz)
    for part in _fed(stream, blocks, channels):
        given = part[:, :left]
        left -= given.shape[1]
        if given.shape[1]:
            yield given
    if left:
        yield np.zeros((channels, left))


def _fed(stream: Any, blocks: Iterable[NDArray[np.floating[Any]]], channels: int) -> Iterator[Doubles]:
    for block in blocks:
        yield np.ascontiguousarray(stream.resample_chunk(np.ascontiguousarray(block.T, np.float64)).T)
    yield np.ascontiguousarray(stream.resample_chunk(np.zeros((0, channels)), last=True).T)
