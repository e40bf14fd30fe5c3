"""Rendering what tells of each stage of one variant: from one tree, each render thrown away once it is measured."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from sweeper.errors import PluginError, SweeperError
from sweeper.plan.taken_apart import FULL, TakenApart
from sweeper.render.desk import Desk
from sweeper.render.executor import Execution, Tally
from sweeper.render.folder import RunFolder
from sweeper.render.job import Job, Rendered
from sweeper.render.jobs import jobs
from sweeper.render.ready import Ready, plan_of, speeds_of
from sweeper.render.repeats import floors_of
from sweeper.workers import Failed

Came = Callable[[str, Rendered | Failed], None]


@dataclass(frozen=True)
class Apart:
    """What came of every variant, by id, the full one rendered; and what was done for it."""

    outcomes: dict[str, Rendered | Failed]
    tally: Tally

    @property
    def full(self) -> Rendered:
        """What came of the full chain."""
        found = self.outcomes[FULL]
        assert isinstance(found, Rendered)
        return found


def rendered_apart(ready: Ready, taken: TakenApart, place: Path, desk: Desk, came: Came) -> Apart:
    """Render and measure every variant of one taken apart. place: a folder for the renders meanwhile.

    came: is told of each as it comes in. Raises what ended the full chain, or PluginError; RunFolderError, StoreError.
    """
    ready = replace(ready, found=taken.variants)
    plan = plan_of(ready, taken.variants, speeds_of(ready, desk, strict=False), desk)
    outcomes: dict[str, Rendered | Failed] = {}
    with RunFolder.create(place, "apart", datetime.now().replace(microsecond=0)) as folder:
        execution = Execution(plan, _jobs(ready, taken, folder, desk), desk.store, desk.pool, folder.log)
        for id, outcome in execution.outcomes():
            if id == FULL and isinstance(outcome, Failed):
                raise _ended(outcome)
            shutil.rmtree(folder.variant(id), ignore_errors=True)
            outcomes[id] = outcome
            came(id, outcome)
    return Apart(outcomes, execution.tally)


def _jobs(ready: Ready, taken: TakenApart, folder: RunFolder, desk: Desk) -> dict[str, Job]:
    """One a variant; each solves what can be solved in it, and is measured alone."""
    now, floors = datetime.now(), floors_of(ready.found, ready.facts, desk.store.folder)
    made: dict[str, Job] = {}
    for variant in taken.variants:
        chain = replace(ready.chain, reach=taken.reaches[variant.id], limits=(), prefer=())
        made |= jobs(chain, [variant], ready.mixes, folder, now, desk.patience_s, ready.known, floors)
    return {**made, FULL: replace(made[FULL], tapped=taken.tapped)}


def _ended(failed: Failed) -> SweeperError:
    if isinstance(failed.error, SweeperError):
        return failed.error
    return PluginError(f"the full chain {failed.what}", "`sweeper check` tries every stage by itself")
