"""What a task keeps lives until its outcome is out, and goes before the next task; however it goes."""

from __future__ import annotations

import time
import weakref
from typing import Any

import pytest

from sweeper.workers import Cause, Done, Failed, Pool, Task, keep
from sweeper.workers import report as limits
from sweeper.workers.keeping import let_go

Events = list[dict[str, Any]]


class Thing:
    """Something that can be watched."""


def task(function: str, argument: object = None, key: str = "") -> Task:
    return Task(key or function, f"workers_tasks:{function}", argument, "a test")


def test_kept_things_live_until_they_are_let_go():
    thing = Thing()
    alive = weakref.ref(thing)
    keep(thing)
    del thing
    assert alive() is not None
    let_go()
    assert alive() is None


def test_rings_of_references_go_too():
    thing = Thing()
    thing.own = thing
    alive = weakref.ref(thing)
    keep(thing)
    del thing
    let_go()
    assert alive() is None


@pytest.mark.parametrize(
    ("how", "what"),
    [
        ("segfault", "crashed with a segmentation fault (SIGSEGV) while closing"),
        ("end", "ended by itself with exit code 0 while closing"),
    ],
)
def test_a_task_that_is_done_stays_done_when_what_it_kept_takes_the_process_down(how, what):
    events: Events = []
    with Pool(1, events.append) as pool:
        outcomes = pool.map_in_order([task("keep_trouble", how), task("double", 2)])
    assert outcomes == [Done("keep_trouble", "done"), Done("double", 4)]
    (closing,) = (e for e in events if e["event"] == "closing")
    assert (closing["task"], closing["what"]) == ("keep_trouble", what)


def test_a_task_that_failed_keeps_its_own_words():
    with Pool(1) as pool:
        failed, done = pool.map_in_order([task("keep_trouble_and_raise", "segfault"), task("double", 2)])
    assert isinstance(failed, Failed) and (failed.cause, failed.what) == (Cause.ERROR, "the setting did not stick")
    assert done == Done("double", 4)


def test_what_hangs_while_it_goes_is_ended_and_the_next_task_is_not_blamed(monkeypatch):
    monkeypatch.setattr("sweeper.workers.place.CLOSING_LIMIT_S", 0.5)
    assert limits.CLOSING_LIMIT_S < limits.FIRST_LIMIT_S
    events: Events = []
    began = time.monotonic()
    with Pool(1, events.append) as pool:
        outcomes = pool.map_in_order([task("keep_trouble", "hang"), task("double", 2)])
    assert outcomes == [Done("keep_trouble", "done"), Done("double", 4)]
    assert [e["what"] for e in events if e["event"] == "closing"] == ["was not done within 0.5 s while closing"]
    assert time.monotonic() - began < 5


def test_what_is_printed_while_closing_belongs_to_the_task_that_is_over():
    events: Events = []
    with Pool(1, events.append) as pool:
        tasks = [task("keep_trouble", "print", "first"), task("raise_value_error", None, "second")]
        first, second = pool.map_in_order(tasks)
    assert first == Done("first", "done")
    assert [e["task"] for e in events if e["event"] == "said" and e["line"] == "goodbye"] == ["first"]
    assert isinstance(second, Failed) and "goodbye" not in second.said


def test_the_same_child_goes_on_when_all_went_well():
    with Pool(1) as pool:
        one, _, other = pool.map_in_order([task("pid"), task("keep_trouble", "print"), task("pid")])
    assert one.value == other.value
