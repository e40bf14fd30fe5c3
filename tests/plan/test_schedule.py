"""Tasks come in the order they are wanted, as soon as what they need is done."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from sweeper.plan.schedule import Schedule


def test_a_task_waits_for_what_it_needs_and_others_pass_it():
    schedule = Schedule({"a": (), "b": ("a",), "c": ()})
    assert [schedule.take(), schedule.take(), schedule.take()] == ["a", "c", None]
    schedule.done("c")
    assert schedule.take() is None
    schedule.done("a")
    assert schedule.take() == "b"
    assert schedule.is_empty


def test_what_is_needed_and_is_no_task_counts_as_done():
    assert Schedule({"a": ("done before this run",)}).take() == "a"


def test_a_task_that_is_wanted_again_comes_first_and_after_what_it_needs():
    schedule = Schedule({"a": (), "b": (), "c": ()})
    assert schedule.take() == "a"
    schedule.again("a", ("rebuild",))
    schedule.again("rebuild")
    assert schedule.take() == "rebuild"
    assert schedule.take() == "b"
    schedule.done("rebuild")
    assert [schedule.take(), schedule.take()] == ["a", "c"]


def test_a_dropped_task_is_not_handed_out_and_holds_nobody_up():
    schedule = Schedule({"a": (), "b": ("a",), "c": ("b",)})
    assert schedule.take() == "a"
    schedule.drop("b")
    assert list(schedule.not_begun()) == ["c"]
    assert schedule.take() == "c"


@given(st.data())
def test_every_task_is_handed_out_once_whatever_the_order_of_ends(data):
    count = data.draw(st.integers(1, 12))
    needs = {}
    for number in range(count):
        before = data.draw(st.sets(st.integers(0, number - 1), max_size=3)) if number else set()
        needs[str(number)] = tuple(map(str, before))
    schedule, under_way, order = Schedule(needs), [], []
    while not schedule.is_empty or under_way:
        while (task := schedule.take()) is not None:
            assert all(need in order and need not in under_way for need in needs[task])
            under_way.append(task)
            order.append(task)
        ended = under_way.pop(data.draw(st.integers(0, len(under_way) - 1)))
        schedule.done(ended)
    assert sorted(order) == sorted(needs)
