"""How much of the time is how loud: momentary loudness in steps of 1 LU."""

from __future__ import annotations

import math

import numpy as np

from sweeper.pictures.axis import Axis, nice_step, round_values
from sweeper.pictures.frame import below, beside, edge, grid, heading, nothing_there
from sweeper.pictures.look import BLACK, FAINT_INK, INTEGRATED_DASH, ORANGE, SKY_BLUE, SMALL, TARGET_DASH
from sweeper.pictures.over_time import QUIET_PERCENT, audible_lufs
from sweeper.pictures.subject import Subject
from sweeper.pictures.svg import box, label, line, signed

LEAST_SPAN_LU = 14
STEPS_PCT = (1.0, 2.0, 5.0, 10.0, 20.0)


def distribution(subject: Subject, left_px: float, right_px: float, top_px: float, bottom_px: float) -> list[str]:
    """The chart with what stands around it, and the lines of integrated loudness and target."""
    counts, lowest = subject.curves.histogram.counts, subject.curves.histogram.lowest_lufs
    shares_pct = [100.0 * int(count) / int(counts.sum()) for count in counts]
    across = Axis(*_range_lufs(subject), left_px, right_px)
    step = nice_step(max(shares_pct, default=20.0), 5, STEPS_PCT)
    up = Axis(0.0, step * math.ceil(max(shares_pct, default=20.0) / step), bottom_px, top_px)
    xs = round_values(across.lowest, across.highest, nice_step(across.highest - across.lowest, 8, (2.0, 5.0, 10.0)))
    ys = round_values(0.0, up.highest, step)
    parts = heading(left_px, top_px - 10, "Momentary loudness", "% of the windows above \u221270 LUFS")
    parts += grid(across, up, xs, ys)
    parts += [box(across.at(lowest + at) + 0.4, up.at(share), across.at(lowest + at + 1) - 0.4, bottom_px, SKY_BLUE,
                  told=f"{signed(lowest + at, 0)} to {signed(lowest + at + 1, 0)} LUFS: {share:.1f} %")
              for at, share in enumerate(shares_pct) if share and lowest + at >= across.lowest]  # fmt: skip
    if not shares_pct:
        parts.append(nothing_there(across, up, subject.measurements.reasons.get("loudness_lufs", "")))
    parts += [*_levels(subject, across, up), edge(across, up)]
    parts += beside(up, left_px, [(value, f"{value:.0f}") for value in ys])
    parts += below(across, bottom_px, [(value, signed(value, 0)) for value in xs])
    lower_pct = sum(share for at, share in enumerate(shares_pct) if lowest + at < across.lowest)
    words = "LUFS, a bar 1 LU" + (f"; {lower_pct:.1f} % are lower" if lower_pct else "")
    return [*parts, label(right_px, bottom_px + 34, words, SMALL, FAINT_INK, "end")]


def _range_lufs(subject: Subject) -> tuple[float, float]:
    """What there is and the target, an LU of room at both sides, at least so wide; the quietest is left out."""
    audible = audible_lufs(subject)
    values = [math.floor(np.percentile(audible, QUIET_PERCENT)), math.floor(audible.max()) + 1] if audible.size else []
    if subject.target_lufs is not None:
        values += [math.floor(subject.target_lufs), math.ceil(subject.target_lufs)]
    highest = max(values, default=0) + 1
    return min(min(values, default=0) - 1, highest - LEAST_SPAN_LU), highest


def _levels(subject: Subject, across: Axis, up: Axis) -> list[str]:
    lines = ((subject.measurements["loudness_lufs"], BLACK, 1.5, INTEGRATED_DASH),
             (subject.target_lufs, ORANGE, 2.5, TARGET_DASH))  # fmt: skip
    return [line(across.at(value), up.start_px, across.at(value), up.end_px, colour, width, dash)
            for value, colour, width, dash in lines if value is not None]  # fmt: skip
