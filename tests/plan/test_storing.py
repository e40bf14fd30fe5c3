"""Stored is what is used again and dear; what fits; and for the next run what its last stage starts from."""

from __future__ import annotations

from planning import FACTS, grid, solving

from sweeper.plan.storing import Costs, Storing, choose
from sweeper.plan.tree import Tree, tree

FREE = 10**12


def costs(grown: Tree, seconds: dict[str, float], store_s: float = 1.0) -> Costs:
    """seconds: of a stage by name, 0.01 where it is not named."""
    step_s = {key: seconds.get(step.setups[0].name, 0.01) for key, step in grown.steps.items()}
    return Costs(step_s, {0: store_s}, {0: 100})


def names(grown: Tree, keys: frozenset[str]) -> list[str]:
    return sorted(grown.steps[key].setups[0].name for key in keys)


def chosen(grown: Tree, seconds: dict[str, float], there: frozenset[str] = frozenset(), limit: int = FREE) -> Storing:
    return choose(grown, costs(grown, seconds), there, limit, 2)


def test_a_fast_chain_stores_nothing():
    grown = tree(grid([1, 1, 4]), FACTS)
    assert chosen(grown, {}).starts == frozenset()


def test_a_dear_branch_is_stored_and_a_cheap_one_is_rendered_anew():
    grown = tree(grid([1, 2, 2]), FACTS)
    assert names(grown, chosen(grown, {"a": 9.0}).used_again) == ["a"]
    assert names(grown, chosen(grown, {"a": 9.0, "b": 4.0}).used_again) == ["a", "b", "b"]
    assert names(grown, chosen(grown, {"b": 2.9}).used_again) == []


def test_cheap_stages_count_together_until_storing_is_worth_it():
    grown = tree(grid([1, 1, 1, 2]), FACTS)
    found = chosen(grown, {"a": 1.5, "b": 1.2, "c": 1.2})
    assert names(grown, found.used_again) == ["c"], "rendering all three anew is over three times the store's time"


def test_the_input_of_a_solved_stage_is_used_once_a_pass():
    grown = tree(solving([1, 1, 1], solved=2), FACTS)
    assert names(grown, chosen(grown, {"a": 9.0}).used_again) == ["b"], "the last step before the solved stage"


def test_what_the_next_run_may_want_is_stored_in_passing_when_it_is_much_dearer():
    grown = tree(grid([1, 1, 1]), FACTS)
    assert names(grown, chosen(grown, {"a": 9.0}).passing) == []
    assert names(grown, chosen(grown, {"a": 11.0}).passing) == ["b"], "the input of the last stage"


def test_what_is_in_the_store_already_is_used_and_not_rendered():
    grown = tree(grid([1, 1, 2]), FACTS)
    key = grown.paths["0001"].steps[1]
    found = chosen(grown, {"a": 9.0, "b": 9.0}, there=frozenset([key]))
    assert found.used_again == frozenset()
    assert found.starts == {key}


def test_with_no_room_nothing_is_stored():
    grown = tree(grid([1, 2, 2]), FACTS)
    found = chosen(grown, {"a": 50.0, "b": 50.0}, limit=0)
    assert found.used_again == found.passing == frozenset()


def test_with_little_room_what_saves_most_stays():
    grown = tree(grid([1, 2, 2]), FACTS)
    found = chosen(grown, {"a": 50.0, "b": 4.0}, limit=100)
    assert names(grown, found.used_again) == ["a"]
    assert found.peak_bytes == 100


def test_the_peak_is_one_of_each_depth_for_each_worker_and_the_next():
    grown = tree(grid([1, 8, 2]), FACTS)
    found = chosen(grown, {"a": 9.0, "b": 9.0})
    assert len(found.used_again) == 9
    assert found.peak_bytes == 100 * (1 + 3), "two workers hold two of eight, and the next is being made"


def test_a_limit_just_below_the_peak_gives_up_one_depth_and_no_more():
    grown = tree(grid([1, 8, 2, 1]), FACTS)
    seconds = {"a": 9.0, "b": 9.0, "c": 9.0}
    all_of_it = chosen(grown, seconds)
    less = chosen(grown, seconds, limit=all_of_it.peak_bytes - 1)
    assert {grown.steps[key].depth for key in all_of_it.used_again} == {1, 2}
    assert {grown.steps[key].depth for key in less.used_again} == {1}, "the other depth saves less for its bytes"
    assert less.peak_bytes == 100


def test_the_most_counts_everything_stored():
    grown = tree(grid([1, 2, 1]), FACTS)
    found = chosen(grown, {"a": 50.0, "b": 50.0})
    assert found.most_bytes == 100 * len(found.used_again | found.passing) == 300
