"""Rendering a plan with a pool of workers: steps that are shared go into the store, variants start from them.

Whatever the store does, the sound is the same: a step that cannot be stored is rendered by each variant anew, one that
is found damaged is rendered once more.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from sweeper.errors import RunFolderError, StoreDamaged, StoreError
from sweeper.host.setup import StageSetup
from sweeper.plan.planned import Plan
from sweeper.plan.schedule import Schedule
from sweeper.plan.work import STEP_TASK, nearest, path_to, step_task
from sweeper.render.job import Job, ReachOrder, Rendered, Solved, StepJob, Stored, StoredStep, Taught
from sweeper.render.known_faults import KnownFaults
from sweeper.render.store import Store, entry_bytes
from sweeper.workers import Done, Failed, Pool, Task

#: How often a step that is found damaged is rendered once more before it is left unstored.
MOST_REBUILDS = 2
#: What a worker does with a variant that is rendered.
RENDER = "sweeper.render.task:render_variant"
Log = Callable[[dict[str, object]], None]


@dataclass
class Tally:
    """What was done. steps: rendered. unshared: what they had been with every variant rendered whole from its mix.

    excerpts: what was played of mixes beside the passes, in passes. rebuilt: steps rendered once more as their stored
    output was damaged. spared: variants that were not tried.
    """

    steps: int = 0
    unshared: int = 0
    passes: int = 0
    excerpts: float = 0.0
    plugin_s: float = 0.0
    rebuilt: int = 0
    spared: int = 0


@dataclass
class Execution:
    """One plan's renders. A thing to be used once: `outcomes` gives every variant as it comes in.

    jobs: a job for each variant still to do, without start. taught: what variants done before solved, by id. outside:
    steps that lie in a folder of their own and not in the store, by key. faults: those that are known already, of an
    exploration's earlier batches. work: the function that does a variant's job.
    """

    plan: Plan
    jobs: Mapping[str, Job]
    store: Store
    pool: Pool
    log: Log
    taught: dict[str, tuple[Solved, ...]] = field(default_factory=dict)
    tally: Tally = field(default_factory=Tally)
    outside: Mapping[str, Path] = field(default_factory=dict)
    faults: KnownFaults = field(default_factory=KnownFaults)
    work: str = RENDER

    def __post_init__(self) -> None:
        self._schedule = Schedule(self.plan.needs)
        self._leased: set[str] = set()
        self._lost: set[str] = set()  # steps that the store cannot be rid of, or cannot take
        self._available = {key for key in self.plan.storing.there
                           if key in self.outside or self._lease(key, self.store.claim, key)}  # fmt: skip
        self._keys = {step_task(key): key for key in self.plan.tree.steps}
        self._rebuilds: dict[str, int] = {}
        self._under_way = 0
        self._waited_for: dict[str, int] = {}
        for path in self.plan.tree.paths.values():
            for key in path.steps:
                self._waited_for[key] = self._waited_for.get(key, 0) + 1

    def outcomes(self) -> Iterator[tuple[str, Rendered | Failed]]:
        """Every variant's id with what came of it, in any order.

        Raises RunFolderError when the run's folder cannot be written: then going on makes no sense.
        """
        for mix, stage, failed in self.faults.known():
            yield from self._spared(mix, stage, failed)
        for outcome in self.pool.run(self._tasks()):
            self._under_way -= 1
            if outcome.key.startswith(STEP_TASK):
                yield from self._step_came(self._keys[outcome.key], outcome)
            else:
                yield from self._variant_came(outcome.key, outcome)
        assert self._schedule.is_empty

    def _tasks(self) -> Iterator[Task | None]:
        """Every task as it can begin; None while those under way may still ask for more, if it is to mend something."""
        while self._under_way or not self._schedule.is_empty:
            name = self._schedule.take()
            if name is None:
                yield None
                continue
            task = self._task(name)
            if task is not None:
                self._under_way += 1
                yield task

    def _task(self, name: str) -> Task | None:
        if not name.startswith(STEP_TASK):
            return Task(name, self.work, self._job(name), f"variant {name}")
        step = self._step_job(self._keys[name])
        if step is None:
            return None
        return Task(name, "sweeper.render.step_task:render_step", step, "a step that variants share")

    def _start(self, id: str, steps: tuple[str, ...]) -> StoredStep | None:
        depth = nearest(steps, self._available)
        if not depth:
            return None
        key = steps[depth - 1]
        return StoredStep(self.outside.get(key, self.store.folder), key, self.plan.stages_behind(id, depth))

    def _step_job(self, key: str) -> StepJob | None:
        """The job of a step; None when the store has no room for it: then variants start from an earlier one."""
        step, way = self.plan.tree.steps[key], path_to(self.plan.tree, key)
        job = self.jobs[step.variant]
        if key in self._available or not self._reserved(key, job):
            self._schedule.done(step_task(key))
            return None
        target = StoredStep(self.store.folder, key, step.covered)
        return StepJob(job.mix, job.stages[: step.covered], target, job.patience_s, job.block_frames,
                       self._start(step.variant, way[:-1]), job.files)  # fmt: skip

    def _job(self, id: str) -> Job:
        steps = self.plan.tree.paths[id].steps
        job = replace(self.jobs[id], start=self._start(id, steps), reach=self._taught_orders(id),
                      look_start=self._start(id, steps[:1]) if steps[:1] and steps[0] in self.outside else None)
        for depth in range(len(steps) - 1, nearest(steps, self._available), -1):
            key = steps[depth - 1]
            if key in self.plan.storing.passing and self._reserved(key, job):
                passing = StoredStep(self.store.folder, key, self.plan.stages_behind(id, depth))
                return replace(job, passing=passing)
        return job

    def _taught_orders(self, id: str) -> tuple[ReachOrder, ...]:
        teacher = self.plan.teachers.get(id)
        if any(order.as_taught for order in self.jobs[id].reach):
            return self._orders_of_main(id, teacher)
        while teacher is not None and not self._has_landed(teacher):
            teacher = self.plan.teachers.get(teacher)
        orders = self.jobs[id].reach
        if teacher is None:
            return orders
        return _taught(orders, self.taught[teacher])

    def _orders_of_main(self, id: str, main: str | None) -> tuple[ReachOrder, ...]:
        """The orders of what has its settings from another mix: wherever that one ended; nowhere where it failed."""
        orders = self.jobs[id].reach
        return _taught(orders, self.taught[main]) if main in self.taught else orders

    def _has_landed(self, id: str) -> bool:
        """Whether a variant found a place worth starting from: one that missed may stand where nothing leads back."""
        return id in self.taught and all(s.ending.teaches for s in self.taught[id])

    def _step_came(self, key: str, outcome: Done | Failed) -> Iterator[tuple[str, Failed]]:
        if not isinstance(outcome, Failed):
            assert isinstance(outcome.value, Stored)
            self._count(outcome.key, outcome.value.steps, 0, 0.0, outcome.value.plugin_s)
            self._available.add(key)
            self._schedule.done(outcome.key)
        elif self._mended(outcome):
            pass
        elif isinstance(outcome.error, StoreError):
            self.log({"event": "not stored", "task": outcome.key, "why": str(outcome.error)})
            self._let_go(key)
            self._schedule.done(outcome.key)
        else:
            self._let_go(key)
            yield from self._all_behind(key, outcome)
            yield from self._not_tried(self.plan.tree.steps[key].mix, self._rendered_by(outcome.key), outcome)

    def _rendered_by(self, task: str) -> tuple[StageSetup, ...]:
        """The stages that a task renders, or would now: those behind its input."""
        if not task.startswith(STEP_TASK):
            start = self._start(task, self.plan.tree.paths[task].steps)
            return self.jobs[task].stages[start.covered if start else 0 :]
        key = self._keys[task]
        step = self.plan.tree.steps[key]
        start = self._start(step.variant, path_to(self.plan.tree, key)[:-1])
        return self.jobs[step.variant].stages[start.covered if start else 0 : step.covered]

    def _not_tried(self, mix: int, stages: tuple[StageSetup, ...], failed: Failed) -> Iterator[tuple[str, Failed]]:
        """After the second fault in the same place: every variant that would meet it there fails with its words."""
        stage = self.faults.met(mix, stages, failed)
        if stage is not None:
            yield from self._spared(mix, stage, failed)

    def _spared(self, mix: int, stage: StageSetup, failed: Failed) -> Iterator[tuple[str, Failed]]:
        for task in tuple(self._schedule.not_begun()):
            is_step = task.startswith(STEP_TASK)
            its_mix = self.plan.tree.steps[self._keys[task]].mix if is_step else self.plan.tree.paths[task].mix
            if its_mix != mix or stage not in self._rendered_by(task):
                continue
            self._schedule.drop(task)
            if not is_step:
                self._release(task)
                self.tally.spared += 1
                self.log({"event": "not tried", "task": task, "why": failed.what})
                yield task, replace(failed, key=task)
        for task in tuple(self._schedule.not_begun()):
            if task.startswith(STEP_TASK) and not self._waited_for[self._keys[task]]:
                self._schedule.drop(task)

    def _all_behind(self, key: str, failed: Failed) -> Iterator[tuple[str, Failed]]:
        """Every variant behind a step that failed fails with it."""
        for task in tuple(self._schedule.not_begun()):
            if task.startswith(STEP_TASK):
                if key in path_to(self.plan.tree, self._keys[task]):
                    self._schedule.drop(task)
            elif key in self.plan.tree.paths[task].steps:
                self._schedule.drop(task)
                self._release(task)
                yield task, replace(failed, key=task)
        self._schedule.done(step_task(key))

    def _variant_came(self, id: str, outcome: Done | Failed) -> Iterator[tuple[str, Rendered | Failed]]:
        if isinstance(outcome, Failed) and self._mended(outcome):
            return
        if isinstance(outcome, Failed) and isinstance(outcome.error, RunFolderError):
            raise outcome.error
        if not isinstance(outcome, Failed):
            assert isinstance(outcome.value, Rendered)
            made = outcome.value
            self._count(id, made.steps, made.passes, made.excerpts, made.plugin_s)
            self.tally.unshared += self.plan.tree.paths[id].length * outcome.value.passes
            if outcome.value.trouble:
                self.log({"event": "not stored", "task": id, "why": outcome.value.trouble})
            self.taught[id] = outcome.value.solved
            yield id, outcome.value
        else:
            yield id, outcome
        self._release(id)
        self._schedule.done(id)
        if isinstance(outcome, Failed):
            yield from self._not_tried(self.plan.tree.paths[id].mix, self._rendered_by(id), outcome)

    def _mended(self, failed: Failed) -> bool:
        """Whether a task failed only because the stored step that it starts from is damaged; then it is done again."""
        if not isinstance(failed.error, StoreDamaged) or failed.error.key in self.outside:
            return False
        key = failed.error.key
        self.log({"event": "damaged", "task": failed.key, "step": key, "why": str(failed.error)})
        if key in self._available:
            self.tally.rebuilt += 1
            self._rebuilds[key] = self._rebuilds.get(key, 0) + 1
            self._available.discard(key)
            if not self.store.discard(key):
                self._lost.add(key)
            if self._rebuilds[key] <= MOST_REBUILDS and key not in self._lost:
                self._schedule.again(step_task(key))
            else:
                self._schedule.done(step_task(key))
        self._schedule.again(failed.key, (step_task(key),))
        return True

    def _release(self, id: str) -> None:
        """A variant is over: what only it still needed may leave the store."""
        for key in self.plan.tree.paths[id].steps:
            self._waited_for[key] -= 1
            if not self._waited_for[key]:
                self._let_go(key)

    def _reserved(self, key: str, job: Job) -> bool:
        """Room for a step in the store, and a lease on it."""
        if key in self._lost:
            return False
        source = job.mix.source
        size_bytes = entry_bytes(source.frames, source.channels)
        return key in self._leased or self._lease(key, self.store.reserve, key, size_bytes)

    def _lease(self, key: str, ask: Callable[..., bool], *arguments: object) -> bool:
        """Ask the store for a lease. One that cannot be written to any more, by a full disk, gives none."""
        try:
            leased = ask(*arguments)
        except StoreError as exc:
            self.log({"event": "not stored", "task": step_task(key), "why": str(exc)})
            self._lost.add(key)
            return False
        if leased:
            self._leased.add(key)
        return leased

    def _let_go(self, key: str) -> None:
        if key in self._leased:
            self._leased.discard(key)
            try:
                self.store.release(key)
            except StoreError as exc:  # the lease ends with this process all the same
                self.log({"event": "not released", "step": key, "why": str(exc)})

    def _count(self, task: str, steps: int, passes: int, excerpts: float, plugin_s: float) -> None:
        self.tally.steps += steps
        self.tally.passes += passes
        self.tally.excerpts += excerpts
        self.tally.plugin_s += plugin_s
        self.log({"event": "worked", "task": task, "steps": steps, "passes": passes, "excerpts": excerpts,
                  "plugin_s": round(plugin_s, 3)})  # fmt: skip


def _taught(orders: Sequence[ReachOrder], learnt: Sequence[Solved]) -> tuple[ReachOrder, ...]:
    return tuple(replace(o, taught=Taught(s.at, s.slope, s.beyond)) for o, s in zip(orders, learnt, strict=True))
