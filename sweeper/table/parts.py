"""The parts that a run is done in, and the rows that come of each: one of all combinations, or batches explored."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime
from typing import NamedTuple

from sweeper.plan.exploration import Exploration
from sweeper.plan.planned import Plan
from sweeper.render.desk import Desk, Event
from sweeper.render.executor import Execution
from sweeper.render.folder import RunFolder
from sweeper.render.jobs import jobs, render_path
from sweeper.render.listened import LISTEN, place_of_try, plan_of_tries, taught_by_tries
from sweeper.render.ready import Ready, plan_of, speeds_of
from sweeper.render.repeats import floors_of
from sweeper.table.row import Row
from sweeper.table.so_far import SoFar, row_of
from sweeper.table.telling import told_of
from sweeper.table.tried import best_tried, only_tried, tried_row
from sweeper.workers import Failed


class Part(NamedTuple):
    """What is done next of a run. on_excerpts: its variants are tried on excerpts, and not rendered."""

    plan: Plan
    on_excerpts: bool = False


def listens(ready: Ready) -> bool:
    """Whether variants are tried on excerpts."""
    return ready.chain.explore is not None and ready.chain.explore.excerpts


def parts(ready: Ready, plan: Plan, search: Exploration | None, so_far: SoFar, desk: Desk,
          watch: Callable[[Event], None]) -> Iterator[tuple[Ready, Part]]:  # fmt: skip
    """The one plan of all combinations; or one for every batch that an exploration asks for, once the rows of the batch
    before are in, and at its end one of what is left to render: nothing, or the best of what was tried on excerpts."""
    if search is None:
        watch({"event": "rendering", "variants": len(plan.variants)})
        yield ready, Part(plan)
        return
    on_excerpts = listens(ready)
    known = so_far.tried if on_excerpts else so_far.rows
    watch({"event": "trying" if on_excerpts else "rendering", "variants": search.most - len(known)})
    speeds = speeds_of(ready, desk, strict=False)
    while (batch := search.next(told_of(ready.chain, known.values()))) is not None:
        left = tuple(variant for variant in batch.variants if variant.id not in known)
        if left:
            ready = replace(ready, found=search.found)
            taught_by = batch.taught_by
            yield ready, Part(plan_of_tries(ready, left, taught_by, desk.workers) if on_excerpts
                              else plan_of(ready, left, speeds, desk, taught_by), on_excerpts)  # fmt: skip
    ready = replace(ready, found=search.found)
    best = best_tried(ready.chain, list(so_far.tried.values()))
    left = tuple(variant for variant in ready.found if variant.id in best and variant.id not in so_far.rows)
    if on_excerpts:
        watch({"event": "rendering", "variants": len(left)})
    yield ready, Part(plan_of(ready, left, speeds, desk, {}))


def rows_of(ready: Ready, part: Part, so_far: SoFar, folder: RunFolder, started: datetime,
            desk: Desk) -> Iterator[Row]:  # fmt: skip
    """Every variant of a part as it comes in, in any order, as the table will tell it; kept in `so_far`."""
    variants, on_excerpts = tuple(part.plan.variants.values()), part.on_excerpts
    floors = floors_of(variants, ready.facts, desk.store.folder)
    left = jobs(ready.chain, variants, ready.mixes, folder, started, desk.patience_s, ready.known, floors,
                place_of_try if on_excerpts else render_path)  # fmt: skip
    tries = {id: row.solved for id, row in so_far.tried.items()}
    if on_excerpts:
        execution = Execution(part.plan, left, desk.store, desk.pool, folder.log, tries, so_far.tally,
                              faults=so_far.faults, work=LISTEN)  # fmt: skip
    else:
        solved = {id: rendered.solved for id, rendered in so_far.rendered.items()}
        execution = Execution(part.plan, taught_by_tries(left, tries), desk.store, desk.pool, folder.log, solved,
                              so_far.tally, ready.outside, so_far.faults)  # fmt: skip
    for id, outcome in execution.outcomes():
        variant = part.plan.variants[id]
        if not on_excerpts:
            if not isinstance(outcome, Failed):
                so_far.rendered[id] = outcome
            so_far.rows[id] = row_of(ready.chain, variant, outcome, folder)
            yield so_far.rows[id]
            continue
        so_far.tried[id] = (row_of(ready.chain, variant, outcome, folder) if isinstance(outcome, Failed)
                            else tried_row(ready.chain, variant, outcome, folder))  # fmt: skip
        yield only_tried(ready.chain, so_far.tried[id])
    if not on_excerpts:
        so_far.plans.append(part.plan)
