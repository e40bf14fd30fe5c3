"""Plain lines and tables without lines, as answers are laid out."""

from __future__ import annotations

from rich.console import Console
from rich.markup import escape
from rich.table import Table


def columns(*headings: str, right: tuple[int, ...] = ()) -> Table:
    """An empty table without lines. right: which columns hold numbers, which are never broken."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    for at, heading in enumerate(headings):
        table.add_column(heading, justify="right" if at in right else "left", overflow="fold", no_wrap=at in right)
    return table


def say(console: Console, words: str, style: str = "") -> None:
    """One line that is no markup and breaks where the terminal ends."""
    console.print(escape(words), style=style, soft_wrap=True)
