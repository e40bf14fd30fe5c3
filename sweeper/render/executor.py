"""Handing variants to workers. The one place that knows how a set of variants becomes renders."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sweeper.render.job import Job, Rendered
from sweeper.workers import Done, Failed, Pool, Task


def render_all(jobs: Sequence[Job], pool: Pool) -> Iterator[tuple[Job, Rendered | Failed]]:
    """Render every job by whichever worker is free; each comes back when it is done, in any order.

    Each variant is rendered whole, from its mix, sharing nothing with the others.
    """
    by_id = {job.variant: job for job in jobs}
    tasks = (Task(job.variant, "sweeper.render.task:render_variant", job, f"variant {job.variant}") for job in jobs)
    for outcome in pool.run(tasks):
        if isinstance(outcome, Done):
            assert isinstance(outcome.value, Rendered)
            yield by_id[outcome.key], outcome.value
        else:
            yield by_id[outcome.key], outcome
