"""What can be begun now: tasks in the order they are wanted, each held back until what it needs is done."""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Mapping, Sequence


class Schedule:
    """Hands out tasks by name. needs: task -> the tasks that must be done before it, in the order they are wanted.

    What is needed and is no task counts as done.
    """

    def __init__(self, needs: Mapping[str, Sequence[str]]) -> None:
        self._done: set[str] = set()
        self._unmet: dict[str, set[str]] = {}  # of every task that is not begun
        self._waiting: dict[str, list[str]] = {}  # what is needed -> who waits for it
        self._ranks: dict[str, int] = {}
        self._ready: list[tuple[int, str]] = []
        for rank, (task, before) in enumerate(needs.items()):
            self._add(task, rank, {need for need in before if need in needs})

    def _add(self, task: str, rank: int, unmet: set[str]) -> None:
        self._ranks[task] = rank
        self._unmet[task] = unmet
        for need in unmet:
            self._waiting.setdefault(need, []).append(task)
        if not unmet:
            heapq.heappush(self._ready, (rank, task))

    @property
    def is_empty(self) -> bool:
        """Nothing is left to begin; some may be under way."""
        return not self._unmet

    def take(self) -> str | None:
        """The first task that can begin; None when there is none before another is done."""
        while self._ready:
            _, task = heapq.heappop(self._ready)
            if self._unmet.get(task) == set():
                del self._unmet[task]
                return task
        return None

    def done(self, task: str) -> None:
        """A task is over, however it went: those that waited for it may begin."""
        self._done.add(task)
        for other in self._waiting.pop(task, []):
            if other in self._unmet and task in self._unmet[other]:
                self._unmet[other].discard(task)
                if not self._unmet[other]:
                    heapq.heappush(self._ready, (self._ranks[other], other))

    def again(self, task: str, needs: Sequence[str] = ()) -> None:
        """Put a task that was begun before all others, to be done once more after what it needs."""
        self._done.discard(task)
        rank = min(self._ranks.values(), default=0) - 1
        self._add(task, rank, {need for need in needs if need not in self._done})

    def drop(self, task: str) -> None:
        """Take a task that was not begun out; who waits for it need wait no longer."""
        if self._unmet.pop(task, None) is not None:
            self.done(task)

    def not_begun(self) -> Iterator[str]:
        """Every task that is still to be begun, in the order they are wanted."""
        return iter(sorted(self._unmet, key=lambda task: self._ranks[task]))
