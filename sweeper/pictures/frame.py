"""What stands around a chart: its grid, its edge, the values beside it, its heading and legend."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sweeper.pictures.axis import Axis
from sweeper.pictures.look import EDGE, FAINT_INK, GRID, INK, SMALL, USUAL
from sweeper.pictures.svg import box, label, line, text_width_px

SWATCH_PX, GAP_PX = 22.0, 20.0


@dataclass(frozen=True)
class Key:
    """A line of the legend: what the words stand for, and how it is drawn."""

    words: str
    colour: str
    width: float
    dash: str = ""


def grid(across: Axis, up: Axis, xs: Sequence[float], ys: Sequence[float]) -> list[str]:
    """Faint lines at values of both axes."""
    return [line(across.at(x), up.start_px, across.at(x), up.end_px, GRID) for x in xs] + [
        line(across.start_px, up.at(y), across.end_px, up.at(y), GRID) for y in ys
    ]


def edge(across: Axis, up: Axis) -> str:
    """The outline of a chart."""
    return box(across.start_px, up.end_px, across.end_px, up.start_px, stroke=EDGE)


def beside(up: Axis, left_px: float, values: Sequence[tuple[float, str]]) -> list[str]:
    """Values at the left of a chart."""
    return [label(left_px - 8, up.at(value) + 4, words, SMALL, FAINT_INK, "end") for value, words in values]


def below(across: Axis, bottom_px: float, values: Sequence[tuple[float, str]]) -> list[str]:
    """Values under a chart."""
    return [label(across.at(value), bottom_px + 16, words, SMALL, FAINT_INK, "middle") for value, words in values]


def heading(left_px: float, y_px: float, words: str, unit: str) -> list[str]:
    """What a chart shows, and in which unit."""
    return [label(left_px, y_px, words, USUAL, INK, bold=True),
            label(left_px + text_width_px(words, USUAL, True) + 4, y_px, unit, SMALL, FAINT_INK)]  # fmt: skip


def legend(right_px: float, y_px: float, keys: Sequence[Key]) -> list[str]:
    """What the lines are, in one row that ends at `right_px`."""
    parts, x = [], right_px
    for key in reversed(keys):
        x -= text_width_px(key.words, SMALL)
        parts.append(label(x, y_px, key.words, SMALL))
        x -= SWATCH_PX + 6
        parts.append(line(x, y_px - 4, x + SWATCH_PX, y_px - 4, key.colour, key.width, key.dash))
        x -= GAP_PX
    return parts


def nothing_there(across: Axis, up: Axis, why: str) -> str:
    """The reason why a chart is empty, in its middle."""
    middle_px = (across.start_px + across.end_px) / 2
    return label(middle_px, (up.start_px + up.end_px) / 2 + 4, why, USUAL, FAINT_INK, "middle")
