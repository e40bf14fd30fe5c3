"""A shortlist on the terminal: the run's table in the new order, margins to every limit, and what was picked."""

from __future__ import annotations

from dataclasses import replace

from rich.console import Console
from rich.markup import escape

from sweeper.cli.remarks import order_remark, row_remarks
from sweeper.cli.show_choice import choice_remarks, front_remark
from sweeper.cli.show_picks import pick_lines
from sweeper.cli.show_run import shown_path
from sweeper.cli.show_table import print_table, shown
from sweeper.cli.streams import out
from sweeper.cli.table_cells import Beside
from sweeper.records.picks import Picks
from sweeper.shortlist import Shortlist


def show_shortlist(found: Shortlist, console: Console | None = None, picks: Picks | None = None) -> None:
    """Print it. picks: what was decided by ear, None = nothing yet. console: None = stdout."""
    console = console or out()
    wanted = [wish.key for wish in found.prefer] + [v.key for row in found.rows for v in row.verdicts]
    rendered = tuple(row for row in found.rows if not row.tried_only)
    everything = shown(rendered, _beside(found), list(dict.fromkeys(wanted)), True, found.picked)
    heard = {id: one.verdict for id, one in picks.picks.items()} if picks else {}
    print_table(console, replace(everything, heard=heard))
    for line in ["", *_remarks(found), *map(escape, pick_lines(picks)), *_picked(found)]:
        console.print(line, soft_wrap=True)


def _beside(found: Shortlist) -> list[Beside]:
    files = [("mix", file) for file in found.run.mixes] + [("reference", file) for file in found.run.references]
    return [Beside(kind, file.file, file.measurements, file.match_gain_db) for kind, file in files]


def _remarks(found: Shortlist) -> list[str]:
    remarks = row_remarks(found.rows) + [f"note: {escape(warning)}" for warning in found.warnings]
    if found.limits:
        fitting, rendered = sum(row.fits for row in found.rows), sum(not row.tried_only for row in found.rows)
        remarks.append(escape(f"{fitting} of {rendered} on target and inside every limit "
                              f"({', '.join(_with_whose(found))})"))  # fmt: skip
    remarks += order_remark(found.prefer, len(found.rows)) + front_remark(found.rows)
    return remarks + choice_remarks(found.rows, found.choice.as_data(), found.picked, "picked")


def _with_whose(found: Shortlist) -> list[str]:
    """The limits, each with the mixes that are held to it where not all are."""
    judged = [row for row in found.rows if row.measurements is not None]
    words = []
    for limit in found.limits:
        others = {row.mix for row in judged if all(verdict.limit != limit for verdict in row.verdicts)}
        own = dict.fromkeys(row.mix for row in judged if row.mix not in others)
        words.append(f"{limit} for {' and '.join(own)}" if others and own else limit)
    return words


def _picked(found: Shortlist) -> list[str]:
    """The picked ones, each with its sound file, or where it went."""
    rows = {row.id: row for row in found.rows}
    lines = []
    for id in found.picked:
        name = rows[id].files.get("matched") or rows[id].files.get("render")
        heard = shown_path(found.run.path / name) if name else "its sound was not kept: its recall sheet makes it again"
        lines.append(escape(f"* {id}  {heard}"))
    return lines
