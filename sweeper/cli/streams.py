"""The two consoles: stdout for the answer, stderr for everything else. Both obey NO_COLOR."""

from __future__ import annotations

from functools import cache

from rich.console import Console


@cache
def out() -> Console:
    """Where the answer goes. 100 columns when it is not a terminal."""
    console = Console(highlight=False, soft_wrap=False)
    return console if console.is_terminal else Console(highlight=False, width=100)


@cache
def err() -> Console:
    """Where progress, warnings and errors go."""
    return Console(stderr=True, highlight=False)
