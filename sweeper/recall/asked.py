"""Where and how a past master is made again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from sweeper.recall.since import Since


def _nothing(event: dict[str, object]) -> None:
    """Where nobody watches."""


def _not_told(since: Since) -> None:
    """Where nobody reads."""


@dataclass(frozen=True)
class Asked:
    """mix: where the mix lies now, None = where the sheet, or its archive, has it.

    results: the folder with the runs, which gets the new one too. patience_s: how long a plugin may show no sign of
    life. watch: is told every event of the worker. told: gets what has changed, before anything is rendered. store: the
    folder of rendered steps, in which the sound of a stage of then may lie still; None = this user's.
    """

    results: Path = Path("results")
    mix: Path | None = None
    patience_s: float = 60.0
    watch: Callable[[dict[str, object]], None] = _nothing
    told: Callable[[Since], None] = _not_told
    store: Path | None = None
