"""What a table of variants on the terminal holds, and its cells as markup."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from rich.markup import escape

from sweeper.quantities import Measurements, quantity_of
from sweeper.table.row import Row

#: Behind a number that is not where it should be; without colour it has to be seen as well.
MARK = " !"


@dataclass(frozen=True)
class Beside:
    """A file that stands below the variants: kind "mix" or "reference"; file: its path as found."""

    kind: str
    file: str
    measurements: Measurements
    match_gain_db: float | None = None


@dataclass(frozen=True)
class Shown:
    """What a table holds. keys: of measurements, in order. always: how many of them are never left out.

    settings: names. limits: each limit's text when its margin gets a column, () = all in one column. picked: ids.
    wanted: the keys that matter here, the first most.
    width: where settings go on in a second line, None = never. headings: whether those of settings may be cut to what
    stands below them. heard: id -> verdict of who listened.
    """

    rows: tuple[Row, ...]
    beside: tuple[Beside, ...]
    keys: tuple[str, ...]
    always: int
    settings: tuple[str, ...]
    limits: tuple[str, ...] = ()
    picked: tuple[str, ...] = ()
    wanted: tuple[str, ...] = ()
    width: int | None = None
    headings: bool = False
    heard: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def several(self) -> bool:
        """There is more than one mix."""
        return len({row.mix for row in self.rows}) > 1

    @cached_property
    def limited(self) -> bool:
        """There is a limit to keep to."""
        return any(row.verdicts for row in self.rows)

    @cached_property
    def missed(self) -> frozenset[str]:
        """Keys of measurements with which some row is not where it was to be."""
        return frozenset(one.key for row in self.rows for one in row.solved if one.missed)

    @cached_property
    def broken(self) -> frozenset[str]:
        """The limits that some row breaks."""
        return frozenset(verdict.limit for row in self.rows for verdict in row.verdicts if verdict.met is False)

    @cached_property
    def rank_width(self) -> int:
        """How wide the widest rank is, with its point and space; 0 where nothing is ranked."""
        return max((len(str(row.rank)) + 2 for row in self.rows if row.rank is not None), default=0)


def row_cells(view: Shown, row: Row) -> list[str]:
    """The cells of a variant."""
    cells = [_name(view, row), *([escape(Path(row.mix).stem)] if view.several else [])]
    cells += [escape(row.settings.get(setting, "")) for setting in view.settings]
    if row.measurements is None:
        cells += ["[red]failed[/red]", *[""] * (len(view.keys) - 1 + len(view.limits))]
        return cells + [""] * (view.limited and not view.limits) + [""]
    cells += [_measured(view, row, key) for key in view.keys]
    cells += [_margin(view, row, limit) for limit in view.limits]
    if view.limited and not view.limits:
        cells.append(_verdict(row))
    return [*cells, _gain(row.match_gain_db)]


def file_cells(view: Shown, file: Beside) -> list[str]:
    """The cells of a mix or a reference."""
    alone = view.several or sum(one.kind == file.kind for one in view.beside) == 1
    stem = escape(Path(file.file).stem)
    short = {"reference": "ref."}.get(file.kind, file.kind)
    cells = [file.kind if alone else f"{short} {stem}", *([stem] if view.several else [])]
    cells += [""] * len(view.settings)
    cells += [_padded(_number(file.measurements, key), False, key in view.missed) for key in view.keys]
    return [*cells, *[""] * (len(view.limits) or int(view.limited)), _gain(file.match_gain_db)]


def _name(view: Shown, row: Row) -> str:
    """1. 004^ * keep: the rank, where anything is ranked, a mark on the trade-off front, a star for what is picked, and
    what a listener decided."""
    rank = "" if row.rank is None else f"{row.rank}. "
    star = " *" if row.id in view.picked else ""
    heard = f" {view.heard[row.id]}" if view.heard.get(row.id) else ""
    return f"{rank:>{view.rank_width}}{row.id}{'^' if row.front == 1 else ''}{star}{heard}"


def _measured(view: Shown, row: Row, key: str) -> str:
    assert row.measurements is not None
    marked = any(solved.key == key and solved.missed for solved in row.solved)
    text = _padded(_number(row.measurements, key), marked, key in view.missed)
    return f"[yellow]{text}[/yellow]" if marked else text


def _margin(view: Shown, row: Row, limit: str) -> str:
    for verdict in row.verdicts:
        if verdict.limit == limit and verdict.margin is not None:
            text = _padded(f"{verdict.margin + 0.0:+.2f}", verdict.met is False, limit in view.broken)
            return f"[red]{text}[/red]" if verdict.met is False else text
    return _padded("-", False, limit in view.broken)


def _padded(text: str, marked: bool, column_marked: bool) -> str:
    return text + (MARK if marked else " " * len(MARK) * column_marked)


def _number(measurements: Measurements, key: str) -> str:
    value = measurements.values.get(key)
    return "-" if value is None else f"{value + 0.0:.{quantity_of(key).decimals}f}"


def _gain(gain_db: float | None) -> str:
    return "" if gain_db is None else f"{gain_db + 0.0:+.2f}"


def _verdict(row: Row) -> str:
    broken = [verdict for verdict in row.verdicts if verdict.met is False]
    if not row.verdicts:  # others have limits, of their mix alone
        return ""
    if broken:
        return f"[red]{len(broken)} broken[/red]"
    return "met" if all(verdict.met for verdict in row.verdicts) else "not judged"
