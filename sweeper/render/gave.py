"""What every stage gives while a room renders, in marks that go on the sheet. Runs in workers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from sweeper.audio.marks import Marks
from sweeper.host.setup import grouped
from sweeper.records import Gave, StageRecord
from sweeper.render.link import Sink
from sweeper.render.room import Room


class Given:
    """One render's marks. also: sinks behind stages that `render` is to have besides, by their number in the room."""

    def __init__(self, room: Room, also: Sequence[Mapping[int, Sink]] = ()) -> None:
        self._covered = room.covered
        heard = [group[-1] for group in grouped([stage.setup for stage in room.stages])]
        self._marks = {number: Marks(room.format.channels, room.format.rate_hz) for number in heard}
        sinks: dict[int, list[Sink]] = {number: [marks.advance] for number, marks in self._marks.items()}
        for taps in also:
            for number, sink in taps.items():
                sinks.setdefault(number, []).append(sink)
        self.taps: Mapping[int, Sink] = {number: _all_of(each) for number, each in sinks.items()}

    def on(self, records: Sequence[StageRecord]) -> tuple[StageRecord, ...]:
        """The records of all stages of the job, those rendered here with what they gave."""
        return tuple(self._with(record, self._marks.get(n - self._covered)) for n, record in enumerate(records))

    def _with(self, record: StageRecord, marks: Marks | None) -> StageRecord:
        if marks is None:
            return record
        return replace(record, gave=(Gave(marks.frames, marks.every_frames, marks.text()),))


def _all_of(sinks: Sequence[Sink]) -> Sink:
    if len(sinks) == 1:
        return sinks[0]

    def sink(block: np.ndarray) -> None:
        for each in sinks:
            each(block)

    return sink
