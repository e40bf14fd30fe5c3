"""What dialling is asked for and what comes of it; plain values."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from sweeper.dial.orders import Moved
from sweeper.dial.signs import Signs


def _nothing(thing: object) -> None:
    """Where nobody listens."""


@dataclass(frozen=True)
class Asked:
    """What is dialled, and on what. alternative: its label, for a stage that has them. mix: number or file.

    section, span_s: the loop; neither = the loudest 20 s. patience_s: how long a plugin may show no sign of life.
    opened: is given the signs once the window is open. told: everything that is to be said meanwhile, a line at a
    time. watch: every event of the workers.
    """

    alternative: str | None = None
    mix: str | None = None
    section: str | None = None
    span_s: tuple[float, float] | None = None
    patience_s: float = 60.0
    opened: Callable[[Signs], None] = _nothing
    told: Callable[[str], None] = _nothing
    watch: Callable[[dict[str, object]], None] = _nothing


@dataclass(frozen=True)
class Changed:
    """A setting that was dialled. written: what the chain file now says of it, "" where the state alone has it."""

    moved: Moved
    written: str


@dataclass(frozen=True)
class Dialled:
    """What came of it. state: the new state file, copy: of the chain file as it was; None = it is as it was."""

    chain_file: Path
    stage: str
    alternative: str
    state: Path | None
    copy: Path | None
    changed: tuple[Changed, ...]
    notes: tuple[str, ...]

    def as_data(self) -> Mapping[str, object]:
        """For JSON."""
        return {
            "schema": 1, "chain_file": str(self.chain_file), "stage": self.stage,
            "alternative": self.alternative or None, "state": str(self.state) if self.state else None,
            "copy": str(self.copy) if self.copy else None,
            "changed": [{"setting": one.moved.name, "before": one.moved.before, "after": one.moved.after,
                         "written": one.written or None} for one in self.changed],
            "notes": list(self.notes),
        }  # fmt: skip
