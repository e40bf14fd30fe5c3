"""The two consoles: stdout for the answer, stderr for everything else. Both obey NO_COLOR."""

from __future__ import annotations

import os
import sys
from functools import cache

from rich.console import Console


class _Answer(Console):
    """Goes on in silence once its reader has gone (`| head`): the exit code is the verb's own."""

    def on_broken_pipe(self) -> None:
        """Nothing more can be said, and Python must not complain of it at its end."""
        self.quiet = True
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


@cache
def out() -> Console:
    """Where the answer goes. 100 columns when it is not a terminal."""
    console = _Answer(highlight=False, soft_wrap=False)
    return console if console.is_terminal else _Answer(highlight=False, width=100)


@cache
def err() -> Console:
    """Where progress, warnings and errors go."""
    return Console(stderr=True, highlight=False)
