"""A plan of all that is left to do, which still knows who of the finished variants teaches."""

from __future__ import annotations

from dataclasses import replace

import pytest
from planning import FACTS, grid, setup, solving

from sweeper.plan.planned import Plan, planned
from sweeper.plan.storing import Costs
from sweeper.plan.tree import tree


def plan(found, left=None, limit: int = 10**12, seconds: float = 9.0) -> Plan:
    left = found if left is None else left
    grown = tree(left, FACTS)
    costs = Costs(dict.fromkeys(grown.steps, seconds), {0: 1.0}, {0: 100})
    return planned(found, left, grown, costs, frozenset(), limit, 2)


def test_every_task_is_there_once_and_comes_after_what_it_waits_for():
    made = plan(grid([1, 2, 2]))
    tasks = list(made.needs)
    assert len(tasks) == 3 + 4, "three shared steps and four variants"
    for task, before in made.needs.items():
        assert all(tasks.index(need) < tasks.index(task) for need in before)
    assert set(made.variants) == {v.id for v in grid([1, 2, 2])} == {t for t in tasks if not t.startswith("step")}


def test_what_is_left_is_planned_and_the_finished_ones_teach():
    found = solving([1, 3, 1], solved=2)
    made = plan(found, found[1:])
    assert list(made.variants) == ["0002", "0003"]
    assert made.teachers == {"0001": None, "0002": "0001", "0003": "0001"}
    assert all("0001" not in before for before in made.needs.values()), "nobody waits for what is done"


def test_with_no_room_there_are_variants_only():
    assert set(plan(grid([1, 2, 2]), limit=0).needs) == {v.id for v in grid([1, 2, 2])}
    assert plan(grid([1, 2, 2]), limit=0).count.predicted == 12
    assert plan(grid([1, 2, 2])).count.predicted == 7


@pytest.mark.parametrize(("depth", "stages"), [(0, 0), (1, 2), (2, 4)])
def test_bypassed_stages_before_a_step_lie_behind_it(depth, stages):
    (one,) = grid([1, 1])
    off = replace(setup("other"), bypass=True)
    made = plan([replace(one, stages=(off, one.stages[0], off, one.stages[1], off))])
    assert made.stages_behind(one.id, depth) == stages
