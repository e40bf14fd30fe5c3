"""What workers do for `excerpt_ranks.py`: a variant tried on excerpts of one kind or another."""

from __future__ import annotations

from dataclasses import dataclass

from sweeper.meter.excerpts import Lengths
from sweeper.render import listening
from sweeper.render.job import Job, Rendered
from sweeper.render.listen_task import listen
from sweeper.workers import Report


@dataclass(frozen=True)
class Kind:
    """How much of a mix is played at a time, in which pieces."""

    name: str
    share: float
    lengths: Lengths


def listened(order: tuple[Job, Kind], report: Report) -> Rendered:
    """As a run does it, with pieces of that kind."""
    job, kind = order
    listening.LISTENED, listening.LONG = kind.share, kind.lengths
    return listen(job, report)
