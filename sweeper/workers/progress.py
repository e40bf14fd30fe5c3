"""How far a task has come, and by when it must be heard of again."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sweeper.workers.messages import Beat, Phase
from sweeper.workers.report import FIRST_LIMIT_S


@dataclass(frozen=True)
class Progress:
    """deadline_s: on the parent's monotonic clock. limit_s: what a sign of life buys."""

    deadline_s: float
    limit_s: float = FIRST_LIMIT_S
    phase: str = "starting"
    position: str = ""

    @property
    def words(self) -> str:
        """For the end of a sentence: "while loading My Comp", "while processing at 0:12.0"."""
        return f"while {self.phase}" + (f" at {self.position}" if self.position else "")


def begun(now_s: float) -> Progress:
    """A task that is handed to a child now."""
    return Progress(now_s + FIRST_LIMIT_S)


def advanced(progress: Progress, sign: Phase | Beat, now_s: float) -> Progress:
    """After a sign of life. A beat without a position leaves the last one standing."""
    if isinstance(sign, Phase):
        return Progress(now_s + sign.limit_s, sign.limit_s, sign.what)
    position = sign.position or progress.position
    return replace(progress, deadline_s=now_s + progress.limit_s, position=position)


def postponed(progress: Progress, by_s: float) -> Progress:
    """Time in which nobody watched does not count."""
    return replace(progress, deadline_s=progress.deadline_s + by_s)
