"""Who starts from whose solution is fixed by the plan: near, shallow, and never across plugins or mixes."""

from __future__ import annotations

from dataclasses import replace

from planning import grid, setup, solving

from sweeper.plan.teachers import explored_teachers, main_variants, teachers


def test_a_variant_learns_from_its_neighbour_at_the_first_value_of_the_fastest_axis():
    found = {v.place[1:]: v.id for v in solving([2, 2, 3], solved=2)}
    taught_by = teachers(solving([2, 2, 3], solved=2))
    assert taught_by[found[(0, 0, 0)]] is None
    assert taught_by[found[(0, 0, 2)]] == found[(0, 0, 0)]
    assert taught_by[found[(1, 1, 2)]] == found[(1, 1, 0)]
    assert taught_by[found[(1, 1, 0)]] == found[(1, 0, 0)]
    assert taught_by[found[(1, 0, 0)]] == found[(0, 0, 0)]


def test_no_chain_of_teachers_is_longer_than_there_are_axes():
    taught_by = teachers(solving([3, 3, 3], solved=2))
    for id in taught_by:
        depth = 0
        while (id := taught_by[id]) is not None:
            depth += 1
        assert depth <= 3


def test_without_a_reach_nobody_teaches():
    assert set(teachers(grid([2, 3])).values()) == {None}


def test_mixes_do_not_teach_one_another():
    one = solving([1, 2], solved=1)
    other = [replace(v, id=f"9{v.id}", mix=1, place=(1, *v.place[1:])) for v in one]
    taught_by = teachers([*one, *other])
    assert taught_by["90001"] is None
    assert taught_by["90002"] == "90001"


def test_another_plugin_at_the_solved_stage_learns_from_its_own_kind():
    found = solving([1, 4], solved=1)
    found[2:] = [replace(v, stages=(v.stages[0], setup("other", 0.1))) for v in found[2:]]
    assert teachers(found) == {"0001": None, "0002": "0001", "0003": None, "0004": "0003"}


def test_a_teacher_that_was_merged_away_is_replaced_by_the_first_of_its_kind():
    found = [v for v in solving([2, 3], solved=1) if v.place != (0, 1, 0)]
    taught_by = teachers(found)
    assert taught_by[next(v.id for v in found if v.place == (0, 1, 2))] == found[0].id


def near(one: str, other: str) -> tuple[int, float]:
    return abs(int(one) - int(other)), 0.0


def test_of_an_exploration_the_nearest_earlier_one_teaches_and_of_equally_near_ones_the_first():
    earlier = solving([1, 4], solved=1)
    batch = [replace(v, id=id) for v, id in zip(earlier, ("0010", "0003", "0000"), strict=False)]
    assert explored_teachers(batch, earlier, near) == {"0010": "0004", "0003": "0003", "0000": "0001"}
    twice = [replace(v, id=id) for v, id in zip(earlier, ("0002", "0004"), strict=False)]
    assert explored_teachers(batch[1:2], twice, near) == {"0003": "0002"}


def test_of_an_exploration_only_who_solves_the_same_teaches():
    earlier = [replace(v, stages=(v.stages[0], setup("other", 0.1))) for v in solving([1, 2], solved=1)]
    batch = [replace(v, id=f"1{v.id}", place=(0, number)) for number, v in enumerate(solving([1, 3], solved=1))]
    assert explored_teachers(batch, earlier, near) == {"10001": None, "10002": "10001", "10003": "10001"}


def test_an_alternate_has_its_settings_from_the_same_variant_of_its_main_mix():
    one = solving([2, 2], solved=1)
    other = [replace(v, id=f"9{v.id}", mix=1, place=(1, *v.place[1:]), main=0) for v in one]
    taught_by = teachers([*one, *other])
    assert {v.id: taught_by[v.id] for v in other} == {f"9{v.id}": v.id for v in one}
    assert main_variants([*one, *other]) == {f"9{v.id}": v.id for v in one}
    assert main_variants(one) == {}
