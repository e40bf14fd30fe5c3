"""Tasks in, outcomes out, however the processes in between end."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator
from multiprocessing.connection import wait
from types import TracebackType
from typing import Self

from sweeper.workers.bell import Bell
from sweeper.workers.memory import Gauge, default_limit_bytes
from sweeper.workers.place import Place
from sweeper.workers.starts import Starts
from sweeper.workers.supervisor import Child
from sweeper.workers.task import Outcome, Task

MOST_WORKERS = 60  # Windows waits on no more than 63 things at once
_TICK_S = 0.25  # a death that closes no connection (something it started holds it) is seen that late
_AWAY_S = 5.0  # a longer gap between two looks: the computer slept, or the caller was busy


class Pool:
    """Up to `workers` child processes, started as they are needed. A context manager; leaving it kills them.

    on_event: called with one dict for each event, only from inside run() and map_in_order(), in their thread:
    {"event": one of started phase beat report said dropped ended closing, "worker": n, "task": its key, ...}.
    renew_after: a child is replaced after so many tasks. grace_s: how long after a limit a child ends itself,
    should the parent not have done so by then. memory_limit_bytes: a child that takes more is ended; None = what the
    machine has, shared among the workers, 8 GB at most.
    """

    def __init__(
        self,
        workers: int,
        on_event: Callable[[dict[str, object]], None] | None = None,
        renew_after: int = 50,
        *,
        grace_s: float = 15.0,
        memory_limit_bytes: int | None = None,
    ) -> None:
        if not 1 <= workers <= MOST_WORKERS or renew_after < 1:
            raise ValueError(f"{workers} workers (1 to {MOST_WORKERS}) renewed after {renew_after} (1 or more)")
        self._bell = Bell()
        self._grace_s = grace_s
        self._starts = Starts()
        emit = on_event or _unheard
        limit_bytes = default_limit_bytes(workers) if memory_limit_bytes is None else memory_limit_bytes
        self._places = [
            Place(number, emit, self._starts, self._new_child, renew_after, Gauge(limit_bytes))
            for number in range(1, workers + 1)
        ]
        self._numbers = [0] * workers  # of the task in each place
        self._running = False
        self._looked_s = 0.0

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Kills every child, whatever it is at, and waits for its end."""
        for place in self._places:
            place.kill()
        for place in self._places:
            place.dismiss()
        self._bell.close()

    def run(self, tasks: Iterable[Task | None]) -> Iterator[Outcome]:
        """Each task's outcome as it comes. Children are watched while the next outcome is waited for.

        tasks: taken from one at a time, when a worker is free, and after the outcome that freed it was handed
        over. None from it says that nothing can be begun before another outcome is in; it is asked again then. An
        iterator left early, or by an exception, kills the children that are at work.
        Raises SweeperError when children do not start; ValueError when None comes while nothing is under way;
        whatever on_event or `tasks` raise.
        """
        for _, outcome in self._run(enumerate(tasks)):
            yield outcome

    def map_in_order(self, tasks: Iterable[Task]) -> list[Outcome]:
        """Every task's outcome, in the order of the tasks. Raises as run() does."""
        return [outcome for _, outcome in sorted(self._run(enumerate(tasks)), key=lambda pair: pair[0])]

    def _run(self, source: Iterator[tuple[int, Task | None]]) -> Iterator[tuple[int, Outcome]]:
        """Outcomes with their tasks' numbers (keys need not differ)."""
        if self._running:
            raise ValueError("a pool runs one set of tasks at a time")
        self._running = True
        self._looked_s = time.monotonic()
        try:
            while True:
                failed, waiting = self._hand_out(source)
                yield from failed
                if all(place.task is None for place in self._places):
                    if not waiting:
                        return
                    if not failed:
                        raise ValueError("nothing is under way, and the tasks wait for an outcome")
                    continue
                while not (finished := self._look()):
                    self._wait()
                yield from finished
        finally:
            self._running = False
            self._clear()

    def _hand_out(self, source: Iterator[tuple[int, Task | None]]) -> tuple[list[tuple[int, Outcome]], bool]:
        """Gives every free worker a task. Returns the tasks that failed at that, and whether more may come later."""
        failed: list[tuple[int, Outcome]] = []
        for index, place in enumerate(self._places):
            while place.task is None:
                if (numbered := next(source, None)) is None:
                    return failed, False
                self._numbers[index], task = numbered
                if task is None:
                    return failed, True
                if (outcome := place.take(task)) is not None:
                    failed.append((self._numbers[index], outcome))
        return failed, True

    def _wait(self) -> None:
        deadlines = [place.deadline_s for place in self._places if place.deadline_s is not None]
        soonest = min(deadlines, default=float("inf")) - time.monotonic()
        connections = [place.connection for place in self._places if place.connection is not None]
        wait([self._bell.reader, *connections], max(0.0, min(_TICK_S, soonest)))
        self._bell.clear()

    def _look(self) -> list[tuple[int, Outcome]]:
        now = time.monotonic()
        gap_s, self._looked_s = now - self._looked_s, now
        if gap_s > _AWAY_S:
            for place in self._places:
                place.postpone(gap_s)
        outcomes = [place.look() for place in self._places]
        return [(number, o) for number, o in zip(self._numbers, outcomes, strict=True) if o is not None]

    def _new_child(self) -> Child:
        return Child(self._grace_s, self._bell.ring)

    def _clear(self) -> None:
        busy = [place for place in self._places if place.task is not None]
        for place in busy:
            place.kill()
        for place in busy:
            place.clear()


def _unheard(event: dict[str, object]) -> None:
    """Where nobody listens to events."""
