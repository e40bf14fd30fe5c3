"""How a task tells the parent that it is alive, and where it stands."""

from __future__ import annotations

import threading
from collections.abc import Callable

from sweeper.workers.messages import Beat, Message, Noted, Phase

FIRST_LIMIT_S = 60.0  # for the imports and whatever else comes before the task's first phase
CLOSING_LIMIT_S = 10.0  # for taking down, after the outcome, what the task kept


def _no_watchdog(limit_s: float | None) -> None:
    """Stands in where nothing ends the process from inside."""


class Report:
    """Handed to a task's function; its methods may be called from any thread.

    send: takes each message. arm: takes the time (s) within which the next sign of life must come,
    None = no such time while a message is on its way (a parent that is slow to read is no fault of the task).
    """

    def __init__(
        self, send: Callable[[Message], None], arm: Callable[[float | None], None] = _no_watchdog
    ) -> None:
        self._send = send
        self._arm = arm
        self._limit_s = FIRST_LIMIT_S
        self._over = False
        self._lock = threading.Lock()

    def phase(self, what: str, limit_s: float) -> None:
        """A new phase begins. what: with an -ing ("loading My Comp"). limit_s: until the next sign of life.

        Raises ValueError when limit_s is not a positive number.
        """
        if not 0 < limit_s < float("inf"):
            raise ValueError(f"the limit of {what!r} is {limit_s!r} s, not a positive number")
        self._tell(Phase(what, float(limit_s)), limit_s)

    def beat(self, position: str = "", share: float | None = None) -> None:
        """Still alive: the phase's limit starts again. share: 0 to 1 of the whole task done.

        Raises ValueError when share is outside 0 to 1.
        """
        if share is not None and not 0 <= share <= 1:
            raise ValueError(f"the share done is {share!r}, not between 0 and 1")
        self._tell(Beat(position, share), None)

    def say(self, data: dict[str, object]) -> None:
        """Something for the log, in plain values. No sign of life: the phase's limit runs on."""
        with self._lock:
            if not self._over:
                self._send(Noted(data))

    def close(self) -> None:
        """The task is over: whatever threads it left behind are no longer heard."""
        with self._lock:
            self._over = True
            self._arm(None)

    def _tell(self, message: Message, limit_s: float | None) -> None:
        with self._lock:
            if self._over:
                return
            if limit_s is not None:
                self._limit_s = limit_s
            self._arm(None)
            self._send(message)
            self._arm(self._limit_s)
