"""What is left of one render when another is taken from it, both equally loud: how far two variants differ in sound.

The renders of one mix are aligned as they are: they start from the same frame, and every delay is taken out.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweeper.audio import SoundFile, blocks, inspect
from sweeper.errors import AudioFileError
from sweeper.render.orders import FILE_PATIENCE_S
from sweeper.units import gain, level_db
from sweeper.workers import Failed, Pool, Report, Task

#: The sound is taken in stretches of so long, and the one that differs most decides: what is changed in one chorus only
#: is not thinned out by all the rest. Ours, no source; as long as short-term loudness.
STRETCH_S = 3.0
#: A stretch quieter than the loudest by more is the end of a fade, where nothing is judged. Ours, no source.
QUIETER_DB = 40.0


@dataclass(frozen=True)
class NullOrder:
    """Take `other` from `one`, each with its match gain."""

    one: Path
    other: Path
    one_gain_db: float
    other_gain_db: float


@dataclass(frozen=True)
class MatchedNull:
    """What was left. null_db: RMS of the difference against that of the two sounds, in the 3 s where it is largest.

    peak_dbfs: the largest sample of the difference, at the matched level. None of both: nothing is left.
    at_s: where those 3 s begin.
    """

    null_db: float | None
    peak_dbfs: float | None
    at_s: float

    def as_data(self) -> dict[str, object]:
        """For JSON and the run's log."""
        return {"null_db": self.null_db, "peak_dbfs": self.peak_dbfs, "at_s": self.at_s}

    @staticmethod
    def from_data(data: Any) -> MatchedNull:
        """Back from `as_data`. Raises KeyError, TypeError or ValueError for what it did not write."""
        peak, null = data["peak_dbfs"], data["null_db"]
        if null is None or peak is None:
            return MatchedNull(None, None, float(data["at_s"]))
        return MatchedNull(float(null), float(peak), float(data["at_s"]))


def matched_nulls(orders: Sequence[NullOrder], pool: Pool) -> list[MatchedNull | Failed]:
    """Every order's null test, in their order, done in workers."""
    tasks = [Task(f"null {number}", "sweeper.render.matched_null:null_at_one_level", order,
                  f"comparing {order.one.parent.name} and {order.other.parent.name}")
             for number, order in enumerate(orders)]  # fmt: skip
    found: list[MatchedNull | Failed] = []
    for outcome in pool.map_in_order(tasks):
        if isinstance(outcome, Failed):
            found.append(outcome)
            continue
        assert isinstance(outcome.value, MatchedNull)
        found.append(outcome.value)
    return found


def null_at_one_level(order: NullOrder, report: Report) -> MatchedNull:
    """Take one render from another. Where one has ended, silence is taken for it. Runs in workers.

    Raises AudioFileError when their rates or channels differ, or one cannot be read.
    """
    report.phase(f"comparing {order.one.parent.name} and {order.other.parent.name}", FILE_PATIENCE_S)
    one, other = inspect(order.one), inspect(order.other)
    if (one.format.rate_hz, one.format.channels) != (other.format.rate_hz, other.format.channels):
        raise AudioFileError(f"{order.one} and {order.other} differ in rate or channels",
                             "one of them is not what the run rendered: take it from a backup")  # fmt: skip
    factors = gain(order.one_gain_db), gain(order.other_gain_db)
    stretch = round(STRETCH_S * one.format.rate_hz)
    sums: list[tuple[float, float, int]] = []  # energy of the difference and of both sounds, frames
    peak = 0.0
    for ours, theirs in _side_by_side(one, other, stretch):
        ours, theirs = ours * factors[0], theirs * factors[1]
        left = ours - theirs
        peak = max(peak, float(np.abs(left).max()))
        sums.append((float(np.vdot(left, left)), float(np.vdot(ours, ours) + np.vdot(theirs, theirs)), left.shape[1]))
        report.beat()
    if not peak:
        return MatchedNull(None, None, 0.0)
    ratio, at = _largest(_whole(sums, stretch))
    return MatchedNull(10 * math.log10(ratio), level_db(peak), at * STRETCH_S)


def _side_by_side(one: SoundFile, other: SoundFile,
                  frames: int) -> Iterator[tuple[NDArray[np.float64], NDArray[np.float64]]]:  # fmt: skip
    nothing = np.zeros((one.format.channels, 0), np.float32)
    for ours, theirs in zip_longest(blocks(one, frames), blocks(other, frames), fillvalue=nothing):
        length = max(ours.shape[1], theirs.shape[1])
        yield _filled(ours, length), _filled(theirs, length)


def _filled(block: NDArray[Any], frames: int) -> NDArray[np.float64]:
    filled = np.zeros((block.shape[0], frames))
    filled[:, : block.shape[1]] = block
    return filled


def _whole(sums: Sequence[tuple[float, float, int]], stretch: int) -> list[tuple[float, float]]:
    """The energies without the frames; a rest of less than half a stretch counts with the one before."""
    whole = [(left, sounds) for left, sounds, _ in sums]
    if len(sums) > 1 and sums[-1][2] < stretch / 2:
        last = whole.pop()
        whole[-1] = whole[-1][0] + last[0], whole[-1][1] + last[1]
    return whole


def _largest(sums: Sequence[tuple[float, float]]) -> tuple[float, int]:
    """The largest difference, as power over the mean power of both sounds, and the number of its stretch.

    Where they differ in nothing but what is that quiet, all of it counts as one stretch.
    """
    least = max(sounds for _, sounds in sums) * 10 ** (-QUIETER_DB / 10)
    ratio, number = max((2 * left / sounds, -number) for number, (left, sounds) in enumerate(sums) if sounds >= least)
    if ratio > 0:
        return ratio, -number
    return 2 * sum(left for left, _ in sums) / sum(sounds for _, sounds in sums), 0
