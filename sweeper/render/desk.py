"""What a run works with: workers, the store, and an ear for what the workers say."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from sweeper.render.store import Store, default_folder, default_limit_bytes
from sweeper.workers import Pool

Event = dict[str, object]


def _nothing(event: Event) -> None:
    """Where nobody watches."""


class Watcher:
    """Passes the workers' events on, and into the run's log once there is one."""

    def __init__(self, watch: Callable[[Event], None]) -> None:
        self._watch = watch
        self.log: Callable[[Event], None] = _nothing

    def __call__(self, event: Event) -> None:
        self._watch(event)
        if event.get("event") != "beat":
            self.log(event)


@dataclass(frozen=True)
class Desk:
    """patience_s: how long a plugin may show no sign of life."""

    pool: Pool
    store: Store
    watcher: Watcher
    workers: int
    patience_s: float

    @property
    def store_room_bytes(self) -> int:
        """What the store may still take before something has to leave it."""
        return self.store.limit_bytes - self.store.total_bytes()


@contextmanager
def opened(workers: int, patience_s: float, store: Path | None, limit_bytes: int | None,
           watch: Callable[[Event], None], memory_limit_bytes: int | None = None) -> Iterator[Desk]:  # fmt: skip
    """A desk, cleared away at the end. store: None = this user's; limit_bytes: None = a fifth of the free space.

    memory_limit_bytes: what one worker may take, None = a share of what the machine has.

    Raises StoreError when the store cannot be used.
    """
    watcher = Watcher(watch)
    place = store or default_folder()
    limit = default_limit_bytes(place) if limit_bytes is None else limit_bytes
    with Pool(workers, watcher, memory_limit_bytes=memory_limit_bytes) as pool, Store(place, limit) as opened_store:
        yield Desk(pool, opened_store, watcher, workers, patience_s)
