"""Meters behind some stages of a chain at work. Runs in workers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from sweeper import meter
from sweeper.quantities import Measurements
from sweeper.render.link import Sink
from sweeper.render.orders import Ranges
from sweeper.render.room import Room


class Tapped:
    """What passes behind stages in one pass. numbers: theirs in the job, none before the stored input."""

    def __init__(self, room: Room, numbers: Sequence[int], sections: Ranges) -> None:
        self._covered = room.covered
        self._panels = {number: meter.start(room.format, sections) for number in numbers}

    @property
    def taps(self) -> Mapping[int, Sink]:
        """For `render`."""
        return {number - self._covered: self._sink(number) for number in self._panels}

    def _sink(self, number: int) -> Sink:
        def sink(block: np.ndarray) -> None:
            self._panels[number] = meter.advance(self._panels[number], block)

        return sink

    def measured(self) -> tuple[Measurements, ...]:
        """Of each stage, in the order of their numbers as given."""
        return tuple(meter.finish(panel) for panel in self._panels.values())
