"""Ends a child that hangs even with Python's lock held, when the parent is no longer there to kill it."""

from __future__ import annotations

import faulthandler
import re
from collections.abc import Iterable

EXIT_CODE = 1  # faulthandler's own
_LAST_WORDS = re.compile(r"Timeout \(\d+:\d\d:\d\d(\.\d+)?\)!")  # what faulthandler writes as it fires


class Watchdog:
    """A timer in C, which needs no Python to fire. grace_s: how long after the limit (a parent comes first).

    voice: the file descriptor that gets the traceback of every thread.
    """

    def __init__(self, voice: int, grace_s: float) -> None:
        self._voice = voice
        self._grace_s = grace_s

    def arm(self, limit_s: float | None) -> None:
        """Ends the process limit_s + grace_s from now; None: never."""
        if limit_s is None:
            faulthandler.cancel_dump_traceback_later()
        else:
            faulthandler.dump_traceback_later(limit_s + self._grace_s, exit=True, file=self._voice)


def fired(exit_code: int, said: Iterable[str]) -> bool:
    """Whether a child that ended with `exit_code`, its last words being `said`, was ended by its watchdog."""
    return exit_code == EXIT_CODE and any(_LAST_WORDS.fullmatch(line) for line in said)
