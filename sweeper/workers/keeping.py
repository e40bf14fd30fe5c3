"""What a task must not drop before its outcome is on the way: foreign code may crash or hang while it is taken down."""

from __future__ import annotations

import gc

_kept: list[object] = []


def keep(thing: object) -> None:
    """Holds `thing` until this process has sent the outcome of the task at work. In a child's main thread."""
    _kept.append(thing)


def let_go() -> None:
    """Drops everything that was kept, and what hangs on it, now and in this thread."""
    _kept.clear()
    gc.collect()
