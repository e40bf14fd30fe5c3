"""What every setting does to every measurement, on one page: a row a setting, a column a measurement."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from xml.sax.saxutils import escape

from sweeper.pictures.axis import Axis, nice_step, round_values
from sweeper.pictures.look import BLUE, EDGE, FAINT_INK, GRID, INK, PAPER, SKY_BLUE, SMALL, TITLE, USUAL
from sweeper.pictures.svg import box, curve, dot, group, label, line, printable, shortened, signed, text_width_px

MARGIN_PX, LABELS_PX, PLOT_PX, NUMBER_PX, GAP_PX = 36.0, 190.0, 150.0, 50.0, 22.0
COLUMN_PX = PLOT_PX + NUMBER_PX + GAP_PX
FIRST_BAND_PX, HEADING_PX, AXIS_PX, FIRST_ROW_PX, BAND_GAP_PX = 84.0, 10.0, 42.0, 56.0, 26.0
NAME_PX, SHARE_PX, LEVEL_PX, ROW_GAP_PX, LINE_PX = 22.0, 20.0, 18.0, 16.0, 16.0
BAR_PX, DOT_PX, LEAST_WIDTH_PX = 7.0, 3.5, 760.0
#: Side by side; more of them stand in bands below each other, so that the page stays as wide as a screen.
MOST_COLUMNS = 4
MEAN_DASH = "3 3"
STEPS = tuple(factor * 10.0**power for power in range(-4, 4) for factor in (1, 2, 5))
#: Intervals do not widen the scale beyond so many times what the means span.
WIDEST = 3.0


@dataclass(frozen=True)
class Dot:
    """A mean, in the measurement's unit. half: of its 95 % interval, None where there is none."""

    value: float
    half: float | None


@dataclass(frozen=True)
class Share:
    """An importance and its range, 0.0 to 1.0."""

    value: float
    lowest: float
    highest: float


@dataclass(frozen=True)
class Cell:
    """A setting on a measurement. dots: one a line of the setting, None where there is none. change: in words.

    stands_out: the change is larger than its interval. why: said where there are no dots.
    """

    dots: tuple[Dot | None, ...]
    change: str
    stands_out: bool = True
    share: Share | None = None
    why: str = ""


@dataclass(frozen=True)
class Setting:
    """A row. lines: its values. joined: they follow each other, so that a line goes through the dots."""

    name: str
    lines: tuple[str, ...]
    joined: bool
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Column:
    """A measurement. mean: of all variants that have it. note: stands under its name."""

    name: str
    unit: str
    decimals: int
    mean: float
    note: str = ""


@dataclass(frozen=True)
class Sheet:
    """A page. notes: sentences below the rows."""

    title: str
    subtitle: str
    columns: tuple[Column, ...]
    settings: tuple[Setting, ...]
    notes: tuple[str, ...]


def effects_picture(sheet: Sheet) -> str:
    """The page as SVG text, as wide and high as it needs to be; the same sheet gives the same text."""
    count = len(sheet.columns)
    width = max(LEAST_WIDTH_PX, 2 * MARGIN_PX + LABELS_PX + COLUMN_PX * min(count, MOST_COLUMNS) - GAP_PX)
    room = width - 2 * MARGIN_PX
    parts = [group("headline", [label(MARGIN_PX, 46, shortened(sheet.title, TITLE, room, True), TITLE, INK, bold=True),
                                label(MARGIN_PX, 68, shortened(sheet.subtitle, USUAL, room), USUAL,
                                      FAINT_INK)])]  # fmt: skip
    top = FIRST_BAND_PX
    for first in range(0, count, MOST_COLUMNS):
        band, top_of_next = _band(sheet, range(first, min(count, first + MOST_COLUMNS)), top, width)
        parts.append(group(f"band {first // MOST_COLUMNS + 1}", band))
        top = top_of_next
    notes = [words for note in sheet.notes for words in _lines(note, room)]
    parts.append(group("notes", [label(MARGIN_PX, top + LINE_PX * at, words, SMALL, FAINT_INK)
                                 for at, words in enumerate(notes)]))  # fmt: skip
    height = top + LINE_PX * len(notes) + 6
    return "\n".join((_head(sheet, width, height), box(0, 0, width, height, PAPER), *parts, "</svg>", ""))


def _band(sheet: Sheet, columns: range, top_px: float, width_px: float) -> tuple[list[str], float]:
    """Some measurements side by side, with every setting, and where the next may begin."""
    across = {at: _axis(sheet, at, place) for place, at in enumerate(columns)}
    tops = [top_px + FIRST_ROW_PX]
    for setting in sheet.settings:
        tops.append(tops[-1] + _height(setting))
    bottom = tops.pop() - ROW_GAP_PX / 2
    parts = [mark for at in columns for mark in _column(sheet.columns[at], across[at], top_px, bottom)]
    for setting, top in zip(sheet.settings, tops, strict=True):
        parts += _row(sheet, setting, top, across, width_px)
    return parts, bottom + BAND_GAP_PX


def _head(sheet: Sheet, width: float, height: float) -> str:
    return (f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.0f}" height="{height:.0f}" '
            f'viewBox="0 0 {width:.0f} {height:.0f}" font-family="sans-serif">\n'
            f"<title>{escape(printable(sheet.title))}</title>")  # fmt: skip


def _height(setting: Setting) -> float:
    return NAME_PX + SHARE_PX + LEVEL_PX * len(setting.lines) + ROW_GAP_PX


def _axis(sheet: Sheet, at: int, place: int) -> Axis:
    """One scale for a whole column, so that settings can be held against each other."""
    dots = [dot for setting in sheet.settings for dot in setting.cells[at].dots if dot is not None]
    values = [sheet.columns[at].mean, *(dot.value for dot in dots)]
    low, high = min(values), max(values)
    room = WIDEST * (high - low) or 10.0**-sheet.columns[at].decimals
    low = max(low - room, min([low, *(dot.value - dot.half for dot in dots if dot.half is not None)]))
    high = min(high + room, max([high, *(dot.value + dot.half for dot in dots if dot.half is not None)]))
    if high == low:
        low, high = low - room, high + room
    spare = 0.04 * (high - low)
    left = MARGIN_PX + LABELS_PX + COLUMN_PX * place
    return Axis(low - spare, high + spare, left, left + PLOT_PX)


def _column(column: Column, across: Axis, top_px: float, bottom_px: float) -> list[str]:
    """The heading, the scale, and the lines that go down the page."""
    step = nice_step(across.highest - across.lowest, 3, STEPS)
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    name = shortened(column.name, USUAL, COLUMN_PX - GAP_PX - text_width_px(column.unit, SMALL) - 6, True)
    parts = [label(across.start_px, top_px + HEADING_PX, name, USUAL, INK, bold=True),
             label(across.start_px + text_width_px(name, USUAL, True) + 4, top_px + HEADING_PX, column.unit, SMALL,
                   FAINT_INK),
             label(across.start_px, top_px + HEADING_PX + 15, shortened(column.note, SMALL, COLUMN_PX - GAP_PX), SMALL,
                   FAINT_INK)]  # fmt: skip
    for value in round_values(across.lowest, across.highest, step):
        x = across.at(value)
        parts += [line(x, top_px + AXIS_PX + 4, x, bottom_px, GRID),
                  label(x, top_px + AXIS_PX, signed(value, decimals), SMALL, FAINT_INK, "middle")]  # fmt: skip
    mean = across.at(column.mean)
    return [*parts, line(mean, top_px + AXIS_PX + 4, mean, bottom_px, EDGE, 1.0, MEAN_DASH)]


def _row(sheet: Sheet, setting: Setting, top_px: float, across: Mapping[int, Axis], width_px: float) -> list[str]:
    parts = [line(MARGIN_PX, top_px - ROW_GAP_PX / 2 + 4, width_px - MARGIN_PX, top_px - ROW_GAP_PX / 2 + 4, EDGE),
             label(MARGIN_PX, top_px + 15, shortened(setting.name, USUAL, LABELS_PX - 10, True), USUAL, INK,
                   bold=True)]  # fmt: skip
    parts += [label(MARGIN_PX + LABELS_PX - 14, _line_px(top_px, at) + 4, shortened(words, SMALL, LABELS_PX - 24),
                    SMALL, INK, "end") for at, words in enumerate(setting.lines)]  # fmt: skip
    for at, own in across.items():
        parts += _cell(setting.cells[at], sheet.columns[at], own, top_px, setting.joined)
    return parts


def _cell(cell: Cell, column: Column, across: Axis, top_px: float, joined: bool) -> list[str]:
    """The change, the importance as a bar, and a dot with its interval for every value."""
    room = COLUMN_PX - GAP_PX
    if not any(cell.dots):
        return [label(across.start_px, top_px + 15 + 14 * at, words, SMALL, FAINT_INK)
                for at, words in enumerate(_lines(cell.why, room)[:4])]  # fmt: skip
    parts = [box(across.start_px - 2, top_px + 3, across.start_px + room, top_px + NAME_PX + SHARE_PX - 3, PAPER),
             label(across.start_px, top_px + 14, shortened(cell.change, USUAL, room, True), USUAL,
                   INK if cell.stands_out else FAINT_INK, bold=cell.stands_out)]  # fmt: skip
    parts += _share(cell.share, across, top_px + NAME_PX + 9) if cell.share else []
    places = [(across.at(one.value), _line_px(top_px, at)) for at, one in enumerate(cell.dots) if one is not None]
    parts += [curve(places, SKY_BLUE, 1.5)] if joined and len(places) > 1 else []
    for at, one in enumerate(cell.dots):
        if one is not None:
            y = _line_px(top_px, at)
            half = one.half or 0.0
            parts += [line(across.at(one.value - half), y, across.at(one.value + half), y, BLUE, 1.5)] if half else []
            parts += [dot(across.at(one.value), y, DOT_PX, BLUE),
                      label(across.end_px + NUMBER_PX, y + 4, signed(one.value, column.decimals), SMALL, INK,
                            "end")]  # fmt: skip
    return parts


def _share(share: Share, across: Axis, y_px: float) -> list[str]:
    """A bar of the importance, a line over it for its range, and the number."""
    scale = Axis(0.0, 1.0, across.start_px, across.end_px)
    told = f"importance {100 * share.value:.0f} %, {100 * share.lowest:.0f} to {100 * share.highest:.0f} %"
    return [box(scale.start_px, y_px - BAR_PX, scale.end_px, y_px, GRID, told=told),
            box(scale.start_px, y_px - BAR_PX, scale.at(share.value), y_px, SKY_BLUE, told=told),
            line(scale.at(share.lowest), y_px - BAR_PX / 2, scale.at(share.highest), y_px - BAR_PX / 2, INK),
            label(across.end_px + NUMBER_PX, y_px, f"{100 * share.value:.0f} %", SMALL, INK, "end")]  # fmt: skip


def _line_px(top_px: float, at: int) -> float:
    return top_px + NAME_PX + SHARE_PX + LEVEL_PX * (at + 0.5)


def _lines(words: str, width_px: float) -> list[str]:
    """Words on as many lines as they need."""
    lines: list[str] = []
    for word in words.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width_px(longer, SMALL) <= width_px:
            lines[-1] = longer
        else:
            lines.append(shortened(word, SMALL, width_px))
    return lines
