"""The highest and the lowest sample of every moment, and where overs are."""

from __future__ import annotations

import numpy as np

from sweeper.meter.envelope import Envelope
from sweeper.meter.grid import Samples
from sweeper.pictures.axis import Axis
from sweeper.pictures.frame import beside, edge, grid, heading
from sweeper.pictures.look import EDGE, INK, LEFT_PX, RIGHT_PX, SMALL, VERMILLION, WAVE
from sweeper.pictures.subject import Subject
from sweeper.pictures.svg import label, line, number, path, text_width_px
from sweeper.units import gain, level_db

COLUMNS = int(RIGHT_PX - LEFT_PX)
LANE_GAP_PX = 6.0
SHOWN_DBFS = (0.0, -6.0)
MARK_PX = 3.5
LEAST_ROOM_PX = 12.0


def waveform(subject: Subject, across: Axis, top_px: float, bottom_px: float, times_s: list[float]) -> list[str]:
    """A lane a channel for mono and stereo, else one for all."""
    envelope = subject.curves.envelope
    lanes = _lanes(envelope)
    height = (bottom_px - top_px - LANE_GAP_PX * (len(lanes) - 1)) / len(lanes)
    largest = max(1.0, float(envelope.highs.max()), -float(envelope.lows.min()))
    parts = []
    for at, (name, lows, highs) in enumerate(lanes):
        top = top_px + at * (height + LANE_GAP_PX)
        up = Axis(-largest, largest, top + height, top)
        parts += _lane(across, up, name, lows, highs, times_s)
    return parts + _overs(envelope, across, top_px)


def waveform_heading(subject: Subject, across: Axis, y_px: float) -> list[str]:
    """What the chart shows, and how many overs there are."""
    overs = int(subject.curves.envelope.overs.sum())
    parts = heading(across.start_px, y_px, "Waveform", "highest and lowest samples, dBFS")
    if overs:
        words = f"{overs:,} overs" if overs > 1 else "1 over"
        x = across.end_px - text_width_px(words, SMALL)
        parts += [label(x, y_px, words, SMALL), path(_triangle(x - 10, y_px), VERMILLION)]
    return parts


def _lanes(envelope: Envelope) -> list[tuple[str, Samples, Samples]]:
    if envelope.format.channels == 2:
        return [("L", envelope.lows[0], envelope.highs[0]), ("R", envelope.lows[1], envelope.highs[1])]
    return [("", envelope.lows.min(axis=0), envelope.highs.max(axis=0))]


def _lane(across: Axis, up: Axis, name: str, lows: Samples, highs: Samples, times_s: list[float]) -> list[str]:
    marks = [gain(level_dbfs) for level_dbfs in SHOWN_DBFS]
    parts = grid(across, up, times_s, [*marks, *(-mark for mark in marks)])
    parts += [path(_outline(across, up, lows, highs), WAVE),
              line(across.start_px, up.at(0), across.end_px, up.at(0), EDGE)]  # fmt: skip
    if name:
        parts.append(label(across.end_px + 8, up.at(0) + 4, name, SMALL, INK))
    return [*parts, edge(across, up), *beside(up, across.start_px, _values(up))]


def _values(up: Axis) -> list[tuple[float, str]]:
    """The levels beside a lane: the highest where it is over 0 dBFS, and of 0, none and -6 dBFS those with room."""
    wanted = [(1.0, "0"), (0.0, "\u2212∞"), (gain(-6.0), "\u22126")]
    if up.highest > 1.0:
        wanted.insert(0, (up.highest, f"+{level_db(up.highest):.1f}"))
    kept: list[tuple[float, str]] = []
    for value, words in wanted:
        if all(abs(up.at(value) - up.at(other)) >= LEAST_ROOM_PX for other, _ in kept):
            kept.append((value, words))
    return kept


def _outline(across: Axis, up: Axis, lows: Samples, highs: Samples) -> str:
    """The area between lows and highs, a step a column."""
    edges = across.start_px + np.arange(lows.size + 1) * (across.end_px - across.start_px) / lows.size
    there = "".join(f"V{number(up.at(float(high)))}H{number(x)}" for high, x in zip(highs, edges[1:], strict=True))
    back = "".join(f"V{number(up.at(float(low)))}H{number(x)}"
                   for low, x in zip(lows[::-1], edges[-2::-1], strict=True))  # fmt: skip
    return f"M{number(edges[0])} {number(up.at(0))}{there}{back}Z"


def _overs(envelope: Envelope, across: Axis, top_px: float) -> list[str]:
    """A triangle above each column with overs, whatever the channel; many of them make a bar."""
    columns = np.flatnonzero(envelope.overs)
    if not columns.size:
        return []
    places = [across.start_px + (column + 0.5) * (across.end_px - across.start_px) / envelope.overs.size
              for column in columns]  # fmt: skip
    return [path("".join(_triangle(x, top_px) for x in places), VERMILLION)]


def _triangle(x_px: float, tip_px: float) -> str:
    return (f"M{number(x_px)} {number(tip_px)}L{number(x_px - MARK_PX)} {number(tip_px - 2 * MARK_PX)}"
            f"H{number(x_px + MARK_PX)}Z")  # fmt: skip
