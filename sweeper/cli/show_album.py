"""An album on the terminal: its order, what is between neighbours, and what to know of it."""

from __future__ import annotations

from rich.console import Console
from rich.markup import escape

from sweeper.album.assembling import Assembled
from sweeper.album.folder import CHECKSUMS_NAME, PAGE_NAME, PROOF_NAME
from sweeper.album.order_lines import album_remarks, order_lines
from sweeper.album.written import hyphened, numbers
from sweeper.cli.lines import columns, say
from sweeper.cli.show_run import shown_path
from sweeper.cli.streams import out
from sweeper.units import clock


def show_album(made: Assembled, console: Console | None = None) -> None:
    """console: None = stdout."""
    console = console or out()
    lines, proof = order_lines(made), made.proof
    table = columns("", "title", "ISRC", "start", "length", "gap s", "LUFS", "LU", "dBTP", "dBFS",
                    right=(0, 3, 4, 5, 6, 7, 8, 9))  # fmt: skip
    for line in lines:
        table.add_row(str(line.number), escape(line.title), hyphened(line.isrc), clock(line.start_s),
                      clock(line.length_s), f"{line.gap_s:.2f}" if line.gap_s else "-",
                      *(text or "-" for text in numbers(line.measured)))  # fmt: skip
    whole = numbers(proof.measurements)
    table.add_row("", "the whole", "", "", clock(proof.frames / proof.rate_hz), "", *(text or "-" for text in whole))
    console.print(table)
    _show_joins(made, console)
    console.print()
    for remark in album_remarks(made):
        say(console, remark)
    console.print(f"\nfiles: {escape(shown_path(made.folder))}  ({CHECKSUMS_NAME} to check them by)", soft_wrap=True)
    console.print(f"to hear it in one go, with a marker at every track: {escape(shown_path(made.folder / PROOF_NAME))}",
                  soft_wrap=True)  # fmt: skip
    console.print(f"the order, to print: {escape(shown_path(made.folder / PAGE_NAME))}", soft_wrap=True)


def _show_joins(made: Assembled, console: Console) -> None:
    if not made.joins:
        return
    console.print()
    table = columns("from", "to", "as a whole LU", "last 10 s to first 10 s LU", "tilt dB", "side/mid dB",
                    right=(0, 1, 2, 3, 4, 5))  # fmt: skip
    for join in made.joins:
        values = (join.step_lu, join.across_lu, join.tilt_db, join.side_mid_db)
        table.add_row(str(join.before), str(join.after),
                      *("-" if value is None else f"{round(value, 1) + 0.0:+.1f}" for value in values))  # fmt: skip
    console.print(table)
