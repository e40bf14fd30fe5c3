"""A rehearsal in a worker, for tests: what it foretells in some places of a setting."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sweeper.host.knob import Knob
from sweeper.quantities import Measurements
from sweeper.render.job import Job
from sweeper.render.rehearsal import Rehearsal, worth_rehearsing
from sweeper.render.room import Room
from sweeper.render.upstream import Upstream
from sweeper.workers import Report


@dataclass(frozen=True)
class Told:
    """worth: whether excerpts can foretell it. left: tries, at first. passes: what was played, in full renders."""

    worth: bool
    left: int
    foretold: tuple[Measurements, ...]
    passes: float


def told(order: tuple[Job, Sequence[float]], report: Report) -> Told:
    """Turn the setting of the job's first reach to some places, and foretell what a full render would measure there."""
    job, places = order
    room = Room(job, report)
    upstream = Upstream(job, room)
    rehearsal = Rehearsal(job, room, upstream)
    worth, left = worth_rehearsing(job, room), rehearsal.left
    turned = job.reach[0]
    knob = Knob(upstream.stages()[turned.stage], turned.setting, turned.side)
    found = []
    for place in places if left else ():
        knob.turn(place)
        found.append(rehearsal.foretell())
    return Told(worth, left, tuple(found), rehearsal.passes)
