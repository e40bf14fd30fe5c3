"""Plugins that only one process at a time may have loaded, as some licences demand. Imported in workers only."""

from __future__ import annotations

import weakref
from collections.abc import Callable

import platformdirs
from filelock import FileLock, Timeout

from sweeper.host.setup import StageSetup
from sweeper.workers.keeping import keep

#: How long to wait between signs of life.
_WAIT_S = 0.5
WAITING = "waiting: another sweeper has a plugin of `instances: 1` loaded"


class _Turn:
    """This process' turn: how many stages hold it, and the system's lock, which ends with the process."""

    def __init__(self) -> None:
        self.holders = 0
        self._lock: FileLock | None = None

    def take(self, alive: Callable[[str], None]) -> None:
        """Wait for the turn, as long as it takes."""
        if self._lock is None:
            folder = platformdirs.user_cache_path("sweeper", appauthor=False)
            folder.mkdir(parents=True, exist_ok=True)
            self._lock = FileLock(folder / "one-at-a-time.lock", thread_local=False, fallback_to_soft=False)
        while not self._lock.is_locked:
            alive(WAITING)
            try:
                self._lock.acquire(timeout=_WAIT_S)
            except Timeout:  # another process has its plugin loaded
                continue
        self.holders += 1

    def give(self) -> None:
        """One stage has gone; with the last one the turn is over."""
        self.holders -= 1
        if not self.holders and self._lock is not None:
            self._lock.release()


#: One turn for all such plugins together, so that no two processes can wait for each other.
_TURN = _Turn()


class Holding:
    """Somebody's share in the turn, given back when it is dropped."""

    def __init__(self) -> None:
        weakref.finalize(self, _TURN.give)
        keep(self)  # as long as the plugin, which outlives its stage until the task's outcome is sent


def held(setup: StageSetup, alive: Callable[[str], None]) -> Holding | None:
    """The turn to load a stage's plugin; to be kept as long as that is loaded. None for a stage that needs none.

    alive: called with words while another process is waited for.
    """
    if not setup.instances or setup.bypass:
        return None
    _TURN.take(alive)
    return Holding()
