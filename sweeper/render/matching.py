"""Writing the listening copies: every finished variant and its mix at one loudness."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sweeper.audio import BroadcastTag
from sweeper.render.orders import CopyOrder
from sweeper.workers import Failed, Pool, Task


@dataclass(frozen=True)
class Copy:
    """One listening copy to write."""

    source: Path
    target: Path
    gain_db: float
    tag: BroadcastTag | None = None


def write_copies(copies: Sequence[Copy], pool: Pool) -> tuple[str, ...]:
    """Write every listening copy; returns what went wrong with those that could not be written, in words."""
    tasks = [
        Task(str(n), "sweeper.render.file_tasks:copy_at_level", CopyOrder(c.source, c.target, c.gain_db, c.tag),
             c.target.name)
        for n, c in enumerate(copies)
    ]  # fmt: skip
    return tuple(
        f"{copy.target.parent.name}/{copy.target.name} could not be written: {outcome.what}"
        for copy, outcome in zip(copies, pool.map_in_order(tasks), strict=True)
        if isinstance(outcome, Failed)
    )
