"""Plugins that only one process at a time may have loaded."""

from __future__ import annotations

import pytest
from holding_tasks import Stay
from plugin_builder import build

from sweeper.workers import Done, Pool, Task


@pytest.mark.parametrize(("instances", "apart"), [(1, True), (0, False)])
def test_two_workers_have_it_one_after_the_other_when_the_chain_file_says_so(tmp_path, instances, apart):
    path = str(build("gain", tmp_path))
    (tmp_path / "marks").mkdir()
    stay = Stay(path, instances, 1.0, tmp_path / "marks", others=0 if apart else 1)
    tasks = [Task(str(n), "holding_tasks:stay", stay, "one") for n in range(2)]
    with Pool(2) as pool:
        outcomes = list(pool.map_in_order(tasks))
    assert all(isinstance(outcome, Done) for outcome in outcomes), outcomes
    (first, second) = sorted(outcome.value for outcome in outcomes)
    assert (second[0] >= first[1]) is apart
