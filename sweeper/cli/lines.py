"""Plain lines and tables without lines, as answers are laid out."""

from __future__ import annotations

import textwrap

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
    """A line that is no markup, broken between words where the console ends; what follows is indented by two more."""
    start, line = words[: len(words) - len(words.lstrip("\n"))], words.lstrip("\n")
    indent = " " * (len(line) - len(line.lstrip()) + 2)
    lines = textwrap.wrap(line, console.width, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
    console.print(escape(start + "\n".join(lines)), style=style, soft_wrap=True)
