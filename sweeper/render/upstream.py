"""What lies before the stages that a room renders, for what has to be the same whatever the store holds."""

from __future__ import annotations

from functools import cached_property

from sweeper.audio import SoundFile
from sweeper.host.stage import HostedStage
from sweeper.render.job import Job
from sweeper.render.orders import FILE_PATIENCE_S
from sweeper.render.room import Room
from sweeper.render.store import Entry, open_entry


class Upstream:
    """The way from the mix, or from what came back from outside last, to a room's first stage.

    The stages on it are loaded when they are first needed.
    """

    def __init__(self, job: Job, room: Room) -> None:
        self._job = job
        self._room = room
        self._loaded: tuple[HostedStage, ...] | None = None

    @property
    def file(self) -> SoundFile:
        """Where it begins."""
        return self._entry.file if self._entry else self._room.mix

    @property
    def covered(self) -> int:
        """How many of the job's stages lie before it."""
        return self._job.look_start.covered if self._job.look_start else 0

    def stages(self) -> tuple[HostedStage, ...]:
        """The stages on it, and those of the room."""
        if self._loaded is None:
            self._loaded = self._room.hosted(self._job.stages[self.covered : self._room.covered])
        return (*self._loaded, *self._room.stages)

    @property
    def plugin_s(self) -> float:
        """Seconds inside plugins that are not the room's."""
        return sum(stage.plugin_s for stage in self._loaded or ())

    @cached_property
    def _entry(self) -> Entry | None:
        start = self._job.look_start
        if start is None:
            return None
        self._room.report.phase("reading what came back", FILE_PATIENCE_S)
        return open_entry(start.folder, start.key)
