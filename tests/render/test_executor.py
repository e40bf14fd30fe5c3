"""A plan carried out: shared steps once, whatever the store does; damage mended; failures where they belong.

The workers are played by a pool that does tasks in the test's process, two at a time: their outcomes are what real
workers give, their entries in the store are real.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from planning import FACTS, grid, solving

from sweeper.audio import AudioFormat
from sweeper.errors import PluginError, RunFolderError, StoreDamaged, StoreError
from sweeper.plan.planned import Plan, planned
from sweeper.plan.reach_terms import Ending
from sweeper.plan.storing import Costs
from sweeper.plan.tree import tree
from sweeper.quantities import Measurements
from sweeper.records import Source
from sweeper.render.executor import Execution
from sweeper.render.job import GoalOrder, Job, MixFile, ReachOrder, Rendered, Solved, StepJob, Stored
from sweeper.render.store import Store, write_entry
from sweeper.workers import Cause, Done, Failed, Task

FRAMES = 1000
FORMAT = AudioFormat(2, 44100)
SOURCE = Source("mix.wav", "a mix", 2, 44100, FRAMES)
Fault = Callable[[Task], Exception | Failed | None]


class PlayedPool:
    """Two workers. fault: gives what a task ends with, None = it is done. steps: rendered, by their stage."""

    def __init__(self, fault: Fault = lambda task: None) -> None:
        self.fault = fault
        self.began: list[str] = []
        self.rendered: list[str] = []
        self.jobs: dict[str, Job] = {}

    def run(self, tasks: Iterator[Task | None]) -> Iterator[Done | Failed]:
        under_way: list[Task] = []
        more = True
        while more or under_way:
            while more and len(under_way) < 2:
                task = next(tasks, "end")
                if task == "end":
                    more = False
                if task is None or task == "end":
                    break
                self.began.append(task.key)
                under_way.append(task)
            assert under_way or not more, "everybody waits and nothing is under way"
            if under_way:
                yield self._done(under_way.pop(0))

    def _done(self, task: Task) -> Done | Failed:
        error = self.fault(task)
        if isinstance(error, Failed):
            return replace(error, key=task.key)
        if error is not None:
            return Failed(task.key, Cause.ERROR, getattr(error, "what", "failed"), "", "", (), error)
        job = task.argument
        covered = job.start.covered if job.start else 0
        stages = job.stages[covered:]
        if isinstance(job, StepJob):
            self.rendered += [stage.name for stage in stages]
            with write_entry(job.target.folder, job.target.key, FORMAT) as entry:
                entry.write(np.zeros((2, FRAMES), np.float32))
                entry.commit((), (), 0.0)
            return Done(task.key, Stored(len(stages), 0.1, 0.1))
        self.jobs[task.key] = job
        self.rendered += [stage.name for stage in stages]
        solved = tuple(Solved(o.goals[0].key, -10, -10, Ending.ON_TARGET, "d", float(int(task.key)), "dB", 2, "", 0.5)
                       for o in job.reach)  # fmt: skip
        return Done(task.key, Rendered(Measurements({}), SOURCE, (), solved, (), "", 1, 0.1, 0.1, len(stages)))


def job_of(variant) -> Job:
    goal = GoalOrder("loudness_lufs", -10.0, 1, 0.1, False, "loudness -10")
    reach = tuple(ReachOrder(turn.stage, turn.setting, turn.side, turn.direction, (goal,)) for turn in variant.turns)
    return Job(variant.id, "", MixFile(SOURCE, (0, 0)), {}, variant.stages, reach, Path("render.wav"), "", "", "", 60.0)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "store", 10**9) as opened:
        yield opened


def plan_of(found, store: Store, seconds: float = 9.0, limit: int = 10**12) -> Plan:
    grown = tree(found, FACTS)
    costs = Costs(dict.fromkeys(grown.steps, seconds), {0: 1.0}, {0: 100})
    return planned(found, found, grown, costs, frozenset(k for k in grown.steps if store.has(k)), limit, 2)


def carried_out(found, store: Store, pool: PlayedPool, plan: Plan | None = None, taught=None):
    """(execution, outcomes by id, log)."""
    log: list[dict[str, object]] = []
    jobs = {variant.id: job_of(variant) for variant in found}
    execution = Execution(plan or plan_of(found, store), jobs, store, pool, log.append, dict(taught or {}))
    return execution, dict(execution.outcomes()), log


def test_every_step_of_the_tree_is_rendered_once(store):
    found, pool = grid([1, 1, 2, 2]), PlayedPool()
    execution, outcomes, _ = carried_out(found, store, pool)
    assert sorted(outcomes) == [v.id for v in found]
    assert sorted(pool.rendered) == sorted(["a", "b", "c", "c", "d", "d", "d", "d"])
    assert execution.tally.steps == 8 == execution.plan.count.predicted


def test_a_second_run_starts_from_what_the_first_stored(store):
    carried_out(grid([1, 1, 2, 2]), store, PlayedPool())
    pool = PlayedPool()
    carried_out(grid([1, 1, 2, 3]), store, pool)
    assert sorted(pool.rendered) == ["d"] * 6, "only the last stage, and one more setting of it"


def test_a_chain_without_branches_leaves_the_input_of_its_last_stage_for_the_next_run(store):
    found = grid([1, 1, 1])
    plan = plan_of(found, store, seconds=11.0)
    execution = Execution(plan, {v.id: job_of(v) for v in found}, store, PlayedPool(), lambda event: None)
    job = execution._job("0001")
    assert job.passing is not None
    assert job.passing.covered == 2


def test_nothing_stays_leased_once_the_run_is_over(store):
    found, pool = grid([1, 2, 2]), PlayedPool()
    execution, _, _ = carried_out(found, store, pool)
    assert execution._leased == set()


def test_without_room_in_the_store_every_variant_is_rendered_from_the_mix(tmp_path):
    with Store(tmp_path / "store", 0) as store:
        found, pool = grid([1, 2, 2]), PlayedPool()
        execution, outcomes, _ = carried_out(found, store, pool, plan_of(found, store))
    assert len(outcomes) == 4
    assert execution.tally.steps == 12


def test_a_step_that_cannot_be_stored_is_said_and_its_variants_start_earlier(store):
    def full(task: Task) -> Exception | None:
        return StoreError("the disk is full") if task.key.startswith("step") else None

    found, pool = grid([1, 2, 2]), PlayedPool(full)
    execution, outcomes, log = carried_out(found, store, pool)
    assert all(isinstance(outcome, Rendered) for outcome in outcomes.values())
    assert execution.tally.steps == 12
    assert [event["why"] for event in log if event["event"] == "not stored"] == ["the disk is full"] * 3


def test_a_damaged_step_is_rendered_once_more_and_the_variant_after_it(store):
    damaged_once: list[str] = []

    def damage(task: Task) -> Exception | None:
        if task.key == "0002" and not damaged_once:
            damaged_once.append(task.argument.start.key)
            return StoreDamaged(task.argument.start.key, "has altered samples")
        return None

    found, pool = grid([1, 1, 3]), PlayedPool(damage)
    execution, outcomes, log = carried_out(found, store, pool)
    assert all(isinstance(outcome, Rendered) for outcome in outcomes.values())
    assert sorted(pool.rendered) == sorted(["a", "a", "b", "b", "c", "c", "c"]), "from the mix: a is not stored"
    assert execution.tally.rebuilt == 1
    assert [event["task"] for event in log if event["event"] == "damaged"] == ["0002"]


def test_damage_found_by_the_last_task_of_all_is_mended_too(store):
    carried_out(grid([1, 1, 2]), store, PlayedPool())
    seen: list[str] = []

    def damage(task: Task) -> Exception | None:
        if seen or task.key != "0002":
            return None
        seen.append(task.argument.start.key)
        return StoreDamaged(task.argument.start.key, "has altered samples")

    execution, outcomes, _ = carried_out(grid([1, 1, 2]), store, PlayedPool(damage))
    assert all(isinstance(outcome, Rendered) for outcome in outcomes.values()) and len(outcomes) == 2
    assert execution.tally.rebuilt == 1


def test_who_missed_its_target_teaches_nobody(store):
    found, pool = solving([1, 2, 1], solved=2), PlayedPool()
    missed = Solved("loudness_lufs", -10, -12, Ending.OUT_OF_REACH, "d", 20.0, "dB", 3, "the end", 0.9)
    left = found[1:]
    grown = tree(left, FACTS)
    costs = Costs(dict.fromkeys(grown.steps, 9.0), {0: 1.0}, {0: 100})
    carried_out(left, store, pool, planned(found, left, grown, costs, frozenset(), 10**12, 2), {"0001": (missed,)})
    assert pool.jobs["0002"].reach[0].taught is None


def test_a_step_that_is_always_damaged_is_given_up_and_the_variants_are_rendered_all_the_same(store):
    def damage(task: Task) -> Exception | None:
        start = getattr(task.argument, "start", None)
        return StoreDamaged(start.key, "is not there") if start is not None else None

    found, pool = grid([1, 1, 3]), PlayedPool(damage)
    _, outcomes, _ = carried_out(found, store, pool)
    assert all(isinstance(outcome, Rendered) for outcome in outcomes.values())


def test_an_entry_of_an_earlier_run_that_is_damaged_is_rebuilt_too(store):
    carried_out(grid([1, 1, 2]), store, PlayedPool())
    seen: list[str] = []

    def damage(task: Task) -> Exception | None:
        start = getattr(task.argument, "start", None)
        if start is None or start.key in seen:
            return None
        seen.append(start.key)
        return StoreDamaged(start.key, "has altered samples")

    pool = PlayedPool(damage)
    execution, outcomes, _ = carried_out(grid([1, 1, 2]), store, pool)
    assert len(outcomes) == 2
    assert execution.tally.rebuilt >= 1
    assert "b" in pool.rendered


def test_a_shared_step_that_fails_fails_every_variant_behind_it_and_no_other(store):
    def broken(task: Task) -> Exception | None:
        if task.key.startswith("step") and task.argument.stages[-1].settings[0].raw == 0.125:
            return ValueError("the plugin crashed")
        return None

    found, pool = grid([1, 2, 2]), PlayedPool(broken)
    _, outcomes, _ = carried_out(found, store, pool)
    failed = {id for id, outcome in outcomes.items() if isinstance(outcome, Failed)}
    assert failed == {v.id for v in found if v.stages[1].settings[0].raw == 0.125}
    assert all(outcome.key == id for id, outcome in outcomes.items() if isinstance(outcome, Failed))
    assert len(outcomes) == 4


def test_a_run_folder_that_cannot_be_written_ends_the_run(store):
    def full(task: Task) -> Exception | None:
        return RunFolderError("the disk is full", "make room") if task.key == "0002" else None

    with pytest.raises(RunFolderError, match="the disk is full"):
        carried_out(grid([1, 3]), store, PlayedPool(full))


def test_pupils_start_where_their_teacher_landed(store):
    found, pool = solving([1, 3, 1], solved=2), PlayedPool()
    carried_out(found, store, pool)
    assert pool.jobs["0001"].reach[0].taught is None
    assert [pool.jobs[id].reach[0].taught.at for id in ("0002", "0003")] == [1.0, 1.0]
    assert pool.jobs["0003"].reach[0].taught.slope == 0.5


def test_a_teacher_that_failed_is_replaced_by_its_own_teacher(store):
    def broken(task: Task) -> Exception | None:
        return ValueError("crashed") if task.key == "0003" else None

    found, pool = solving([2, 2, 1], solved=2), PlayedPool(broken)
    _, outcomes, _ = carried_out(found, store, pool)
    assert isinstance(outcomes["0003"], Failed)
    assert pool.jobs["0004"].reach[0].taught.at == 1.0


def test_what_was_done_before_teaches_what_is_left(store):
    found, pool = solving([1, 3, 1], solved=2), PlayedPool()
    solved = Solved("loudness_lufs", -10, -10, Ending.ON_TARGET, "d", -7.5, "dB", 3, "", 0.9)
    left = found[1:]
    grown = tree(left, FACTS)
    costs = Costs(dict.fromkeys(grown.steps, 9.0), {0: 1.0}, {0: 100})
    plan = planned(found, left, grown, costs, frozenset(), 10**12, 2)
    carried_out(left, store, pool, plan, {"0001": (solved,)})
    assert pool.jobs["0002"].reach[0].taught.at == -7.5


def test_bypassed_stages_are_counted_when_a_start_is_named(store):
    found = [replace(v, stages=(replace(v.stages[0], bypass=True), *v.stages)) for v in grid([1, 1, 2])]
    pool = PlayedPool()
    carried_out(found, store, pool)
    assert pool.jobs["0001"].start.covered == 3
    assert [stage.name for stage in pool.jobs["0001"].stages[3:]] == ["c"]


def crashed(name: str, at: str = "0:00.1") -> Failed:
    """A plugin that took its process along."""
    place = f"{at} in '{name}' ({name})"
    return Failed("", Cause.CRASHED, f"crashed while rendering at {place}", "rendering", place, (), None)


def raised(name: str) -> Failed:
    """A plugin that gave what is no sample."""
    what = f"'{name}' ({name}) gave nan instead of a sample, channel 1 at 0:00.1"
    return Failed("", Cause.ERROR, what, "rendering", f"0:00.0 in '{name}' ({name})", (), PluginError(what))


def fault_of(name: str, raw: float, how: Callable[[str], Failed] = crashed) -> Fault:
    """A plugin that fails wherever the stage of that name is rendered with that setting."""

    def fault(task: Task) -> Failed | None:
        job = task.argument
        behind = job.stages[job.start.covered if job.start else 0 :]
        bad = any(s.name == name and s.settings[0].raw == raw for s in behind)
        return how(name) if bad else None

    return fault


def test_the_same_fault_in_the_same_place_is_not_tried_a_third_time(store):
    found, pool = grid([4, 1, 2]), PlayedPool(fault_of("c", 0.125))
    execution, outcomes, log = carried_out(found, store, pool)
    failed = [id for id, outcome in outcomes.items() if isinstance(outcome, Failed)]
    assert failed == ["0002", "0004", "0006", "0008"] and len(outcomes) == 8
    assert {outcomes[id].key for id in failed} == {*failed}
    assert len({outcomes[id].what for id in failed}) == 1, "the words of those that were tried"
    spared = [event["task"] for event in log if event["event"] == "not tried"]
    assert spared and {*spared} == {*failed} - {*pool.began}
    assert execution.tally.spared == len(spared)
    assert "0002" in pool.began and "0004" in pool.began and "0008" not in pool.began


def test_sound_that_is_none_may_come_from_what_feeds_the_stage_and_is_tried_every_time(store):
    found, pool = grid([4, 1, 2]), PlayedPool(fault_of("c", 0.125, raised))
    execution, outcomes, log = carried_out(found, store, pool)
    failed = {id for id, outcome in outcomes.items() if isinstance(outcome, Failed)}
    assert failed == {"0002", "0004", "0006", "0008"} <= {*pool.began}
    assert not [event for event in log if event["event"] == "not tried"]
    assert execution.tally.spared == 0


def test_another_setting_of_the_stage_is_tried(store):
    found, pool = grid([3, 1, 3]), PlayedPool(fault_of("c", 0.125))
    _, outcomes, _ = carried_out(found, store, pool)
    done = {id for id, outcome in outcomes.items() if isinstance(outcome, Rendered)}
    assert done == {v.id for v in found if v.stages[2].settings[0].raw != 0.125}


def test_steps_that_fail_alike_spare_the_steps_and_variants_after_them(store):
    found, pool = grid([5, 1, 2]), PlayedPool(fault_of("b", 0.0))
    execution, outcomes, log = carried_out(found, store, pool)
    assert len(outcomes) == 10 and all(isinstance(outcome, Failed) for outcome in outcomes.values())
    assert len([name for name in pool.began if name.startswith("step")]) <= 3
    assert not [name for name in pool.began if not name.startswith("step")]
    assert [event["event"] for event in log].count("not tried") >= 4
    assert execution._leased == set()


def test_what_lies_in_the_store_needs_no_try(store):
    """The first run stored what the stage made before it went bad; the second starts behind it."""
    carried_out(grid([3, 1, 1, 2]), store, PlayedPool())
    pool = PlayedPool(fault_of("c", 0.0))
    _, outcomes, _ = carried_out(grid([3, 1, 1, 3]), store, pool)
    assert all(isinstance(outcome, Rendered) for outcome in outcomes.values())


def test_a_fault_that_no_plugin_has_is_tried_every_time(store):
    def broken(task: Task) -> Exception | None:
        return None if task.key.startswith("step") else ValueError("'c' (c) a fault of ours")

    found, pool = grid([1, 1, 5]), PlayedPool(broken)
    _, _, log = carried_out(found, store, pool)
    assert {v.id for v in found} <= {*pool.began}
    assert not [event for event in log if event["event"] == "not tried"]


def test_steps_that_only_spared_variants_wanted_are_spared_too(store):
    def broken(task: Task) -> Failed | None:
        if task.key.startswith("step"):
            return None
        return crashed("c", f"0:00.{task.argument.stages[2].settings[0].raw}")

    found, pool = grid([6, 2, 2]), PlayedPool(broken)
    execution, outcomes, _ = carried_out(found, store, pool)
    assert len(outcomes) == 24 and all(isinstance(outcome, Failed) for outcome in outcomes.values())
    assert len([name for name in pool.began if name.startswith("step")]) < 9, "of eighteen"
    assert execution._leased == set()


def test_a_fault_that_an_earlier_batch_met_twice_is_not_tried_in_the_next(store):
    first, second = grid([2, 1, 2]), PlayedPool()
    execution, _, _ = carried_out(first, store, PlayedPool(fault_of("c", 0.125)))
    found = [replace(v, id=f"9{v.id}") for v in grid([3, 1, 2])]
    plan = plan_of(found, store)
    log: list[dict[str, object]] = []
    later = Execution(plan, {v.id: job_of(v) for v in found}, store, second, log.append, faults=execution.faults)
    outcomes = dict(later.outcomes())
    failed = {id for id, outcome in outcomes.items() if isinstance(outcome, Failed)}
    assert failed == {v.id for v in found if v.stages[2].settings[0].raw == 0.125}
    assert not failed & {*second.began}
    assert {outcomes[id].what for id in failed} == {"crashed while rendering at 0:00.1 in 'c' (c)"}
