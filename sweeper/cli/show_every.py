"""Which past masters still come back, on the terminal: a line a master."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Console
from rich.markup import escape

from sweeper.cli.lines import columns, say
from sweeper.cli.show_recall import short_verdict
from sweeper.cli.show_run import shown_path
from sweeper.cli.streams import out
from sweeper.recall.every import Line
from sweeper.recall.stagewise import first_other
from sweeper.recall.verdict import Verdict

MOST_CHANGED = 2


def show_every(lines: Sequence[Line], console: Console | None = None) -> None:
    """Print the table, what could not be made, and the sum. console: None = stdout."""
    console = console or out()
    table = columns("run", "variant", "comes back", "first at", "changed since")
    for line in lines:
        table.add_row(escape(line.run), line.variant, *(_cells(line)))
    console.print(table)
    for line in lines:
        if line.made is None:
            say(console, f"{line.variant} of {line.run}: {line.trouble}" + (f": {line.remedy}" if line.remedy else ""),
                "red")  # fmt: skip
    console.print()
    for words in _sum(lines):
        say(console, words)


def _cells(line: Line) -> tuple[str, str, str]:
    if line.made is None:
        return "[red]not made[/red]", "-", "-"
    made = line.made
    colour = "green" if made.verdict.came_back else "red"
    other, _ = first_other(made.stages)
    changed = list(dict.fromkeys(one.what for one in made.differences))
    more = f" and {len(changed) - MOST_CHANGED} more" if len(changed) > MOST_CHANGED else ""
    return (f"[{colour}]{escape(short_verdict(made))}[/{colour}]", escape(other.name if other else "-"),
            escape("; ".join(changed[:MOST_CHANGED]) + more) or "nothing")  # fmt: skip


def _sum(lines: Sequence[Line]) -> Iterator[str]:
    made = [line.made for line in lines if line.made is not None]
    back = sum(one.verdict.came_back for one in made)
    close = sum(one.verdict is Verdict.AS_CLOSE_AS_IT_REPEATS for one in made)
    as_close = f", {close} of them as close as they repeat themselves" if close else ""
    yield f"{back} of {len(lines)} come back{as_close}; nothing that was rendered is kept"
    astray = next((line for line in lines if line.made is not None and not line.made.verdict.came_back), None)
    if astray is not None:
        yield f"`sweeper recall {shown_path(astray.place.parent)}` renders one to listen to"
