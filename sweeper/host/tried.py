"""What came of loading a plugin file once, as values that travel between processes and are remembered."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Loads:
    """A plugin that loads. category: as it says itself. channels: what it takes: 1 or 2. settings: how many it has.

    latency_frames: as it reports with the settings it woke up with. seconds: what loading took.
    """

    name: str
    maker: str
    version: str
    identifier: str
    category: str
    channels: int
    latency_frames: int
    settings: int
    seconds: float


@dataclass(frozen=True)
class Quarantined:
    """A plugin that does not load. name: which of several in its file; "" = the file holds one, or none was reached.

    cause: "crashed", "ended" (the process, by itself), "hung", "memory" (it took too much) or "refused".
    what: one sentence without a subject.
    remedy: what to do about it. said: the last line that it printed, "" where it printed nothing.
    """

    name: str
    cause: str
    what: str
    remedy: str
    said: str


@dataclass(frozen=True)
class Program:
    """The program file of a plugin as it was: its size, its time of change, its hash; and what hosted it."""

    size_bytes: int
    time_ns: int
    sha256: str
    library: str


@dataclass(frozen=True)
class Tried:
    """Everything that came of one plugin file."""

    program: Program
    loads: tuple[Loads, ...]
    quarantined: tuple[Quarantined, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """The plugins in the file, as far as they are known."""
        return (*(one.name for one in self.loads), *(one.name for one in self.quarantined if one.name))
