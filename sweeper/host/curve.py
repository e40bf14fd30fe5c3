"""When a ride is where: 0.0 outside its stretches, 1.0 in them, straight ramps between. Positions are audio frames."""

from __future__ import annotations

import numpy as np

from sweeper.host.setup import RideSetup

#: The longest that a plugin's control may stand still while it is ridden: a step in time that nobody hears.
STEP_S = 0.010


class Curve:
    """The stretches of a ride at one rate. The way there ends as a stretch begins, the way back begins as it ends."""

    def __init__(self, ride: RideSetup, rate_hz: int) -> None:
        self._spans = [(start_s * rate_hz, end_s * rate_hz) for start_s, end_s in ride.spans_s]
        self._ramp = ride.ramp_s * rate_hz

    def over(self, first: int, end: int) -> float:
        """The largest share between two frames, `end` not counted: what a step of a ridden control takes.

        So a ramp up is never late, and a ramp down never early.
        """
        return max((self._largest(first, end, *span) for span in self._spans), default=0.0)

    def _largest(self, first: int, end: int, start: float, stop: float) -> float:
        if end > start and first < stop:
            return 1.0
        away = start - end if end <= start else first - stop
        return max(0.0, 1.0 - away / self._ramp) if self._ramp else 0.0

    def at(self, first: int, frames: int) -> float | np.ndarray:
        """The share at each of `frames` frames from `first` on: (frames,), or one number where all are alike."""
        end = first + frames
        for start, stop in self._spans:
            if start <= first and end <= stop:
                return 1.0
        if all(end <= start - self._ramp or first >= stop + self._ramp for start, stop in self._spans):
            return 0.0
        shares = np.zeros(frames)
        position = np.arange(first, end, dtype=np.float64)
        for start, stop in self._spans:
            inside = (position >= start) & (position < stop)
            away = np.where(position < start, start - position, position - stop)
            ramp = 1.0 - away / self._ramp if self._ramp else np.zeros(frames)
            shares = np.maximum(shares, np.where(inside, 1.0, np.clip(ramp, 0.0, 1.0)))
        return shares


def ridden_block_frames(rate_hz: int, block_frames: int) -> int:
    """The block of a stage whose controls are ridden: the largest power of two within 10 ms, at most `block_frames`."""
    frames = 1
    while frames * 2 <= min(rate_hz * STEP_S, block_frames):
        frames *= 2
    return frames
