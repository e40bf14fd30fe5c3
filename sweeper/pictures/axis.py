"""From values to places on the page, and the round values that stand beside an axis."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

#: How far apart, in seconds, times may stand.
TIME_STEPS_S = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0,
                1800.0, 3600.0)  # fmt: skip
MOST_TIMES = 14


@dataclass(frozen=True)
class Axis:
    """lowest and highest value, and where they are on the page; start_px is the larger where an axis goes up."""

    lowest: float
    highest: float
    start_px: float
    end_px: float

    def at(self, value: float) -> float:
        """Where a value is; what lies outside is at the axis' end."""
        share = (min(max(value, self.lowest), self.highest) - self.lowest) / (self.highest - self.lowest)
        return self.start_px + share * (self.end_px - self.start_px)


def round_values(lowest: float, highest: float, step: float) -> list[float]:
    """The multiples of `step` from lowest to highest, both included."""
    return [count * step for count in range(math.ceil(lowest / step - 1e-9), math.floor(highest / step + 1e-9) + 1)]


def nice_step(span: float, most: int, steps: Sequence[float]) -> float:
    """The smallest of the steps that divides a span into at most so many parts; else the largest, or hours of it."""
    fitting = next((step for step in steps if span / step <= most), None)
    return fitting if fitting is not None else steps[-1] * math.ceil(span / most / steps[-1])


def times_s(duration_s: float) -> list[tuple[float, str]]:
    """The times that stand beside an axis of that length, as numbers and as read: 0:30, 1:05:00, or 0.2."""
    step = nice_step(duration_s, MOST_TIMES, TIME_STEPS_S)
    return [(time, _read(time, step)) for time in round_values(0.0, duration_s, step)]


def _read(time_s: float, step_s: float) -> str:
    if step_s < 1.0:
        return f"{time_s:.2f}" if step_s < 0.1 else f"{time_s:.1f}"
    seconds = round(time_s)
    hours, minutes = seconds // 3600, seconds // 60 % 60
    return f"{hours}:{minutes:02d}:{seconds % 60:02d}" if hours else f"{minutes}:{seconds % 60:02d}"
