"""Sections along the time axis: shaded, and named above."""

from __future__ import annotations

from dataclasses import dataclass

from sweeper.pictures.axis import Axis
from sweeper.pictures.look import INK, SMALL, TINTS
from sweeper.pictures.subject import Subject
from sweeper.pictures.svg import box, label, shortened, signed, text_width_px
from sweeper.units import clock

ROWS, ROW_PX, GAP_PX = 3, 15.0, 10.0
LONGEST_NAME_PX = 200.0


@dataclass(frozen=True)
class Named:
    """A name above the chart. row: 0 is the one nearest to the chart."""

    words: str
    x_px: float
    row: int


def shading(subject: Subject, across: Axis, top_px: float, bottom_px: float) -> list[str]:
    """A tint over each range, two tints in turn, with its name, times and loudness where the pointer rests."""
    rate = subject.file.format.rate_hz
    return [
        box(across.at(begin / rate), top_px, across.at(end / rate), bottom_px, TINTS[at % len(TINTS)],
            told=f"{_words(subject, name)}, {clock(begin / rate)}-{clock(end / rate)}")
        for at, (name, begin, end) in enumerate(_in_time(subject))
    ]  # fmt: skip


def named(subject: Subject, across: Axis) -> tuple[tuple[Named, ...], int]:
    """The names with their places, and how many found none: with loudness where that fits, else the name alone."""
    free = [across.start_px] * ROWS
    placed: list[Named] = []
    left_over = 0
    for name, begin, _ in _in_time(subject):
        wanted = across.at(begin / subject.file.format.rate_hz)
        short = shortened(name, SMALL, LONGEST_NAME_PX)
        long = shortened(_words(subject, name), SMALL, LONGEST_NAME_PX + 80)
        found = _place(long, wanted, free, across) or _place(short, wanted, free, across)
        if found is None:
            left_over += 1
            continue
        placed.append(found)
        free[found.row] = found.x_px + text_width_px(found.words, SMALL) + GAP_PX
    return tuple(placed), left_over


def names(placed: tuple[Named, ...], bottom_px: float) -> list[str]:
    """The names in their rows above `bottom_px`."""
    return [label(one.x_px, bottom_px - 5 - one.row * ROW_PX, one.words, SMALL, INK) for one in placed]


def _place(words: str, wanted_px: float, free: list[float], across: Axis) -> Named | None:
    """The first row where the words fit, at their section's beginning or, at the page's edge, left of it."""
    x = min(wanted_px, across.end_px - text_width_px(words, SMALL))
    return next((Named(words, x, row) for row, from_px in enumerate(free) if x >= from_px), None)


def _in_time(subject: Subject) -> list[tuple[str, int, int]]:
    """Every range with its section's name, by time; no longer than the file."""
    whole = subject.file.frames
    ranges = [(begin, min(end, whole), name) for name, each in subject.sections.items() for begin, end in each]
    return [(name, begin, end) for begin, end, name in sorted(ranges)]


def _words(subject: Subject, name: str) -> str:
    part = subject.measurements.sections.get(name)
    loudness = None if part is None else part["loudness_lufs"]
    return name if loudness is None else f"{name} {signed(loudness, 1)} LUFS"
