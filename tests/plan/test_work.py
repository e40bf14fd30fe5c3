"""The tasks of a plan: what each needs, and how many steps they render in all."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from planning import FACTS, grid, solving

from sweeper.plan.planned import planned
from sweeper.plan.schedule import Schedule
from sweeper.plan.storing import Costs
from sweeper.plan.tree import tree
from sweeper.plan.work import STEP_TASK, nearest, path_to, step_task


def plan_of(found, seconds, there=frozenset(), limit=10**12):
    grown = tree(found, FACTS)
    costs = Costs(dict.fromkeys(grown.steps, seconds), {0: 1.0}, {0: 100})
    return planned(found, found, grown, costs, frozenset(there), limit, 2)


def test_a_dear_grid_renders_each_step_of_its_tree_once():
    plan = plan_of(grid([1, 1, 1, 4, 4, 4]), seconds=9.0)
    assert plan.count.predicted == 3 + 4 + 16 + 64
    assert plan.count.unshared == 384


def test_a_fast_grid_renders_every_variant_whole():
    assert plan_of(grid([2, 2]), seconds=0.01).count.predicted == 8


def test_what_is_in_the_store_is_not_rendered_again():
    found = grid([1, 1, 2])
    key = tree(found, FACTS).paths["0001"].steps[1]
    count = plan_of(found, 9.0, there=[key]).count
    assert (count.predicted, count.found) == (2, 2)


def test_with_a_reach_the_steps_of_one_pass_each_are_known_and_the_sum_is_not():
    count = plan_of(solving([1, 1, 3], solved=2), seconds=9.0).count
    assert count.predicted is None
    assert count.single == 2 + 3


def test_shared_steps_come_before_the_variants_that_need_them_and_pupils_after_their_teacher():
    plan = plan_of(solving([1, 1, 3], solved=2), seconds=9.0)
    input_key = plan.tree.paths["0001"].steps[-1]
    assert list(plan.needs) == [step_task(input_key), "0001", "0002", "0003"]
    assert plan.needs["0002"] == (step_task(input_key), "0001")


@given(st.lists(st.integers(1, 3), min_size=1, max_size=4), st.sampled_from([0.01, 2.0, 9.0]), st.booleans(),
       st.integers(0, 900), st.data())  # fmt: skip
def test_the_count_is_what_carrying_out_the_tasks_renders(sizes, seconds, solved, limit, data):
    """Carried out by hand: every start is stored by then, and the steps come to the number foreseen."""
    found = solving(sizes, solved=len(sizes) - 1) if solved else grid(sizes)
    steps = list(tree(found, FACTS).steps)
    there = data.draw(st.sets(st.sampled_from(steps), max_size=3)) if steps else set()
    plan = plan_of(found, seconds, there, limit)
    keys = {step_task(key): key for key in plan.tree.steps}
    schedule, stored, rendered = Schedule(plan.needs), set(there), 0
    while (task := schedule.take()) is not None:
        if task.startswith(STEP_TASK):
            way = path_to(plan.tree, keys[task])
            rendered += len(way) - nearest(way[:-1], stored)
            stored.add(keys[task])
        else:
            path = plan.tree.paths[task]
            rendered += path.length - nearest(path.steps, stored)
        schedule.done(task)
    assert schedule.is_empty
    assert rendered == plan.count.single
    assert plan.count.single <= plan.count.unshared
    assert plan.storing.peak_bytes <= limit
