"""How much memory a worker may take: what one takes is looked at from outside, as no plugin tells."""

from __future__ import annotations

import psutil

#: What nobody needs for one chain of plugins, sample libraries and all.
MOST_BYTES = 8 * 10**9
#: What rendering may take by itself.
LEAST_BYTES = 500 * 10**6
#: Of the limit: a child that keeps more than this once a task is over is replaced, or the next task would be blamed.
KEPT_SHARE = 0.5
_EVERY_S = 1.0


def default_limit_bytes(workers: int) -> int:
    """What one of so many workers may take: all of them and everything else find room; at least a gigabyte."""
    return max(2 * LEAST_BYTES, min(MOST_BYTES, int(psutil.virtual_memory().total) // (workers + 1)))


def resident_bytes(pid: int) -> int:
    """The memory that a process holds now; 0 for one that is over, or that the system tells nothing of."""
    try:
        return int(psutil.Process(pid).memory_info().rss)
    except psutil.Error:
        return 0


def in_gigabytes(size_bytes: int) -> str:
    """A size in words: 7.7 GB, of 10^9 bytes each (SI)."""
    return f"{size_bytes / 10**9:.3g} GB"


class Gauge:
    """Holds a child's memory against a limit, at most once a second: a look costs a call into the system."""

    def __init__(self, limit_bytes: int) -> None:
        self.limit_bytes = limit_bytes
        self._next_s = 0.0

    def is_past(self, pid: int, now_s: float) -> bool:
        """Whether a process holds more than the limit; False when it is not yet time to look. now_s: monotonic."""
        if now_s < self._next_s:
            return False
        self._next_s = now_s + _EVERY_S
        return resident_bytes(pid) > self.limit_bytes

    def keeps_much(self, pid: int) -> bool:
        """Whether a process that has just ended a task still holds so much that it had better go."""
        return resident_bytes(pid) > KEPT_SHARE * self.limit_bytes
