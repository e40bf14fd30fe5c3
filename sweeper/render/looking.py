"""Looking inside a variant while its stages are at hand, between its passes and after them. Runs in workers."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import replace
from functools import cached_property

from sweeper.meter.passage import MOST_S
from sweeper.quantities import Measurements
from sweeper.render.bench import BenchOrder
from sweeper.render.inside_task import on_bench, passage_of
from sweeper.render.job import Job, Look
from sweeper.render.room import Room
from sweeper.render.upstream import Upstream


class Looking:
    """Looks at the stages of a job as they stand now, on a passage of its mix. Rides rest meanwhile.

    Always from the mix, or from what came back from outside last: so that the answer does not depend on what the store
    happens to hold. Stages that the render itself starts behind are loaded when they are first needed. most_s: how long
    the passage may be, whole seconds.
    """

    def __init__(self, job: Job, room: Room, upstream: Upstream, most_s: int = MOST_S) -> None:
        self.job = job
        self.room = room
        self.upstream = upstream
        self.most_s = most_s

    def looked(self, looks: Sequence[Look], measurements: Measurements) -> Measurements:
        """The measurements with what the looks find, and why what they do not find is not there."""
        if not looks:
            return measurements
        values, reasons = dict(measurements.values), dict(measurements.reasons)
        numbers = [look.stage for look in looks]
        last = len(self.job.stages) if None in numbers else max(n for n in numbers if n is not None) + 1
        covered, file = self.upstream.covered, self.upstream.file
        stages = self.upstream.stages()[: last - covered]
        bench = BenchOrder(tuple(looks), covered, self.job.block_frames, self.job.patience_s)
        with ExitStack() as rest:
            for stage in stages:
                rest.enter_context(stage.at_rest())
            seen = on_bench(bench, stages, file, self._passage, self.room.report, self.job.target.parent)
        for number, look in enumerate(looks):
            found, why = seen[number].findings(look)
            values |= found
            reasons |= why
        return replace(measurements, values=values, reasons=reasons)

    @cached_property
    def _passage(self) -> tuple[int, int]:
        return passage_of(self.room.mix, self.room.format, self.most_s, self.room.report)
