"""`sweeper plugins --load-all`: every installed plugin loaded once, with its progress on a terminal."""

from __future__ import annotations

from rich.console import Console
from rich.markup import escape
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

from sweeper.cli.show_catalogue import show_loaded
from sweeper.cli.streams import err
from sweeper.host.catalogue import installed
from sweeper.host.load_all import load_all, to_be_loaded
from sweeper.host.tried import Tried


def load_plugins(workers: int, patience_s: float, again: bool, quiet: bool,
                 console: Console | None = None) -> list[Tried]:  # fmt: skip
    """Load what is installed and was not loaded as it is; on a terminal with a bar and a line each.

    console: None = stderr. Raises StoreError when what came of it cannot be remembered.
    """
    console = console or err()
    plugins = to_be_loaded(installed(), again)
    came: list[Tried] = []
    shown = not quiet and console.is_terminal
    with Progress(TextColumn("{task.description}"), BarColumn(), TaskProgressColumn(), TimeRemainingColumn(),
                  console=console, transient=True, disable=not shown) as bar:  # fmt: skip
        task = bar.add_task("loading plugins", total=len(plugins))
        for plugin, tried in load_all(plugins, min(workers, max(1, len(plugins))), patience_s, lambda event: None):
            came.append(tried)
            bar.update(task, advance=1, description=f"loading plugins, {escape(plugin.name)}"[:60])
            if shown:
                console.print(f"{len(came)}/{len(plugins)} {show_loaded(plugin, tried)}", soft_wrap=True)
    return came


def summary(came: list[Tried]) -> str:
    """Says what came of it: "21 loaded, 3 quarantined"."""
    good, bad = sum(len(tried.loads) for tried in came), sum(len(tried.quarantined) for tried in came)
    if not came:
        return "every plugin is known as it is; --again loads them all the same"
    return f"{good} loaded, {bad} quarantined" + ("; --again loads every one once more" if bad else "")
