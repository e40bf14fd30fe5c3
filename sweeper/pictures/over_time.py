"""Momentary and short-term loudness over time, integrated loudness and the target as lines."""

from __future__ import annotations

import math

import numpy as np

from sweeper.meter.curves import levels
from sweeper.meter.gating import ABSOLUTE_GATE_LUFS, ABSOLUTE_GATE_POWER, OFFSET_LUFS
from sweeper.meter.grid import Doubles
from sweeper.meter.loudness import HOP, MOMENTARY, SHORT_TERM, SUB_BLOCKS_PER_S
from sweeper.pictures.axis import Axis, nice_step, round_values
from sweeper.pictures.frame import Key, beside, edge, grid, heading, legend, nothing_there
from sweeper.pictures.look import BLACK, BLUE, INTEGRATED_DASH, ORANGE, SKY_BLUE, TARGET_DASH
from sweeper.pictures.subject import Subject
from sweeper.pictures.svg import curve, line, signed

HOP_S, MOMENTARY_S, SHORT_TERM_S = (blocks / SUB_BLOCKS_PER_S for blocks in (HOP, MOMENTARY, SHORT_TERM))
LEAST_SPAN_LU, LARGEST_SPAN_LU = 20.0, 60.0
QUIET_PERCENT = 3  # what is quieter for so short a time does not stretch the scale: it lies at the lower edge


def loudness_range_lufs(subject: Subject) -> tuple[float, float]:
    """The lowest and the highest LUFS shown: round, 20 to 60 LU apart, the target within."""
    audible = audible_lufs(subject)
    shown = [*([float(audible.max())] if audible.size else []), *_wanted(subject)]
    highest = 5.0 * math.ceil((max(shown, default=0.0) + 0.5) / 5.0)
    quiet = [float(np.percentile(audible, QUIET_PERCENT))] if audible.size else []
    lowest = 5.0 * math.floor((min([*quiet, *_wanted(subject)], default=ABSOLUTE_GATE_LUFS) - 0.5) / 5.0)
    lowest = max(min(lowest, highest - LEAST_SPAN_LU), highest - LARGEST_SPAN_LU)
    return min([lowest, *(5.0 * math.floor(value / 5.0) for value in _wanted(subject))]), highest


def audible_lufs(subject: Subject) -> Doubles:
    """The momentary loudness of the windows above -70 LUFS."""
    powers = subject.curves.momentary_powers
    return levels(powers[powers > ABSOLUTE_GATE_POWER], OFFSET_LUFS)


def over_time(subject: Subject, across: Axis, top_px: float, bottom_px: float, times_s: list[float]) -> list[str]:
    """The chart, without what stands under it."""
    lowest, highest = loudness_range_lufs(subject)
    up = Axis(lowest, highest, bottom_px, top_px)
    values = round_values(lowest, highest, nice_step(highest - lowest, 6, (5.0, 10.0, 20.0)))
    parts = grid(across, up, times_s, values) + beside(up, across.start_px, [(v, signed(v, 0)) for v in values])
    curves = subject.curves
    if subject.curves.histogram.counts.size:
        parts.append(_line(curves.momentary_powers, MOMENTARY_S, across, up, SKY_BLUE, 1.0))
        if curves.short_term_powers.size:
            parts.append(_line(curves.short_term_powers, SHORT_TERM_S, across, up, BLUE, 2.5))
    else:
        parts.append(nothing_there(across, up, subject.measurements.reasons.get("loudness_lufs", "")))
    parts += [line(across.start_px, up.at(value), across.end_px, up.at(value), key.colour, key.width, key.dash)
              for value, key in _levels(subject)]  # fmt: skip
    return [*parts, edge(across, up)]


def over_time_heading(subject: Subject, across: Axis, y_px: float) -> list[str]:
    """What the chart shows, and what its lines are."""
    keys = [Key(f"momentary, {1000 * MOMENTARY_S:g} ms", SKY_BLUE, 1.0),
            Key(f"short-term, {SHORT_TERM_S:g} s", BLUE, 2.5), *(key for _, key in _levels(subject))]  # fmt: skip
    return heading(across.start_px, y_px, "Loudness over time", "LUFS, at the end of each window") + legend(
        across.end_px, y_px, keys
    )


def _wanted(subject: Subject) -> list[float]:
    return [] if subject.target_lufs is None else [subject.target_lufs]


def _levels(subject: Subject) -> list[tuple[float, Key]]:
    """Integrated loudness and the target, where there are any, with their lines of the legend."""
    found = []
    if subject.target_lufs is not None:
        words = f"target {signed(subject.target_lufs, 1)} LUFS"
        found.append((subject.target_lufs, Key(words, ORANGE, 2.5, TARGET_DASH)))
    loudness = subject.measurements["loudness_lufs"]
    if loudness is not None:
        found.insert(0, (loudness, Key(f"integrated {signed(loudness, 1)} LUFS", BLACK, 1.5, INTEGRATED_DASH)))
    return found


def _line(powers: Doubles, window_s: float, across: Axis, up: Axis, colour: str, width: float) -> str:
    values = levels(powers, OFFSET_LUFS, up.lowest)
    times = np.arange(values.size) * HOP_S + window_s
    kept = _extremes(np.floor([across.at(time) for time in times]).astype(np.int64), values)
    return curve(((across.at(times[at]), up.at(values[at])) for at in kept), colour, width)


def _extremes(columns: np.ndarray, values: Doubles) -> list[int]:
    """Places of the lowest and the highest value in each px column, in order of time: no more is to be seen."""
    starts = np.flatnonzero(np.diff(columns, prepend=columns[0] - 1))
    kept: list[int] = []
    for first, end in zip(starts, [*starts[1:], values.size], strict=True):
        part = values[first:end]
        kept += sorted({int(first + part.argmin()), int(first + part.argmax())})
    return kept
