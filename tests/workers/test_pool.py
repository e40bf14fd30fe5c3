"""Tasks are shared out, outcomes and events come back, and nothing is left behind."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from typing import Any

import psutil
import pytest
import workers_tasks

from sweeper.errors import ChainFileError, SettingError
from sweeper.workers import Cause, Done, Failed, Pool, Task

Events = list[dict[str, Any]]


def task(function: str, argument: object = None, key: str = "") -> Task:
    return Task(key or function, f"workers_tasks:{function}", argument, "a test")


def outcomes_around(odd: Task, on_event: Any = None) -> list[Done | Failed]:
    """Of `odd` among three good tasks, with two workers; the good ones are checked."""
    good = [task("double", number, key=f"good {number}") for number in (1, 2, 3)]
    with Pool(2, on_event, grace_s=0.5) as pool:
        first, outcome, *others = pool.map_in_order([good[0], odd, *good[1:]])
    assert [first, *others] == [Done("good 1", 2), Done("good 2", 4), Done("good 3", 6)]
    return [outcome]


def test_after_a_task_that_closed_stdout_the_next_has_one_again() -> None:
    events: Events = []
    with Pool(1, events.append) as pool:
        tasks = [task("close_stdout"), task("print_lines", [b"heard"]), task("print_lines", [b"heard too"])]
        outcomes = pool.map_in_order(tasks)
    assert [type(outcome) for outcome in outcomes] == [Done, Done, Done]
    assert [e["line"] for e in events if e["event"] == "said"] == ["heard", "heard too"]


def test_our_errors_travel_whole() -> None:
    with Pool(1) as pool:
        setting, chain = pool.map_in_order([task("raise_ours"), task("raise_chain_file")])
    assert isinstance(setting, Failed) and isinstance(chain, Failed)
    assert isinstance(setting.error, SettingError) and isinstance(chain.error, ChainFileError)
    assert setting.error.remedy == "write 10 dB or less"
    assert chain.error.problems[0].line == 3
    assert setting.said == ()


def test_other_errors_bring_their_traceback_and_themselves_where_they_can() -> None:
    with Pool(1) as pool:
        value, stubborn = pool.map_in_order([task("raise_value_error"), task("raise_stubborn")])
    assert isinstance(value, Failed) and isinstance(stubborn, Failed)
    assert value.said[0] == "Traceback (most recent call last):"
    assert value.said[-1] == "ValueError: not a number of dB"
    assert isinstance(value.error, ValueError)
    assert stubborn.error is None


def test_a_crash_leaves_what_c_printed_and_where_python_was(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("PYTHONUNBUFFERED", raising=False)
    (outcome,) = outcomes_around(task("c_print_then_segfault"))
    assert isinstance(outcome, Failed)
    assert outcome.said[:2] == ("last words from C", "Fatal Python error: Segmentation fault")
    assert any("in c_print_then_segfault" in line for line in outcome.said)


def test_an_argument_that_does_not_pickle_fails_its_task_alone() -> None:
    (outcome,) = outcomes_around(task("double", lambda: 0))
    assert isinstance(outcome, Failed)
    assert outcome.cause is Cause.ERROR
    assert outcome.what.startswith("failed: its argument cannot be sent to a worker")


def test_two_workers_work_at_the_same_time() -> None:
    with Pool(2) as pool:
        pool.map_in_order([task("sleep", 0.3), task("sleep", 0.3)])  # starts both children
        began = time.monotonic()
        pids = [outcome.value for outcome in pool.run([task("sleep", 0.5), task("sleep", 0.5)])]
        assert time.monotonic() - began < 0.9
    assert len(set(pids)) == 2


def test_run_gives_outcomes_as_they_come_and_map_in_order_as_they_were_asked() -> None:
    tasks = [task("sleep", 0.6, "slow"), task("double", 1, "a"), task("double", 1, "b")]
    with Pool(2) as pool:
        assert [outcome.key for outcome in pool.run(tasks)] == ["a", "b", "slow"]
        assert [outcome.key for outcome in pool.map_in_order(tasks)] == ["slow", "a", "b"]


def test_map_in_order_allows_equal_keys() -> None:
    with Pool(2) as pool:
        outcomes = pool.map_in_order([task("double", 1, "same"), task("double", 2, "same")])
    assert outcomes == [Done("same", 2), Done("same", 4)]


def test_tasks_are_taken_only_as_workers_are_free() -> None:
    taken: list[int] = []

    def tasks() -> Iterator[Task]:
        for number in range(6):
            taken.append(number)
            yield task("double", number)

    with Pool(2) as pool:
        outcomes = pool.run(tasks())
        next(outcomes)
        assert len(taken) == 2
        next(outcomes)
        assert len(taken) in (2, 3)  # one more for each that has ended and was handed over
        assert len(list(outcomes)) == 4


def test_what_is_not_ready_is_asked_for_again_after_the_next_outcome() -> None:
    """A second task needs the first one's value; a third does not, and is begun at once."""
    values: dict[str, object] = {}
    asked: list[int] = []

    def tasks() -> Iterator[Task | None]:
        yield task("sleep", 0.2, "first")
        yield task("double", 1, "other")
        while "first" not in values:
            asked.append(len(values))
            yield None
        yield task("double", 21, "second")

    with Pool(2) as pool:
        for outcome in pool.run(tasks()):
            assert isinstance(outcome, Done)
            values[outcome.key] = outcome.value
    assert list(values) == ["other", "first", "second"] and values["second"] == 42
    assert asked == [1], "asked when 'other' had freed its worker, not again before 'first' was in"


def test_waiting_with_nothing_under_way_is_a_fault_and_not_a_hang() -> None:
    with Pool(2) as pool, pytest.raises(ValueError, match="nothing is under way"):
        list(pool.run(iter([task("double", 1), None, None, None])))


def test_a_worker_is_renewed_after_so_many_tasks() -> None:
    with Pool(1, renew_after=2) as pool:
        pids = [outcome.value for outcome in pool.map_in_order([task("pid")] * 5)]
    assert pids[0] == pids[1] != pids[2] == pids[3] != pids[4]


def test_a_worker_that_dies_between_tasks_fails_none() -> None:
    with Pool(1) as pool:
        assert pool.map_in_order([task("die_when_idle", 0.2)]) == [Done("die_when_idle", "returned")]
        time.sleep(0.5)
        assert pool.map_in_order([task("double", 2)]) == [Done("double", 4)]


def test_signs_of_life_sent_while_the_caller_was_away_count() -> None:
    with Pool(2) as pool:
        outcomes = pool.run([task("sleep", 0.2, "first"), task("beat_long", 0.3, "long")])
        assert next(outcomes).key == "first"
        time.sleep(0.8)
        assert next(outcomes) == Done("long", "alive")


@pytest.mark.parametrize("away_s, kind", [(0.5, Done), (5.0, Failed)])
def test_limits_do_not_run_while_nobody_watches_for_long(
    away_s: float, kind: type, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The task takes 1.5 s of its 1.2 s; 0.7 s of them the caller is away, which is long or short."""
    monkeypatch.setattr("sweeper.workers.pool._AWAY_S", away_s)
    with Pool(2) as pool:
        outcomes = pool.run([task("sleep", 0.3, "first"), task("outlast", (1.2, 1.5), "long")])
        assert next(outcomes).key == "first"
        time.sleep(0.7)
        assert type(next(outcomes)) is kind


def test_leaving_early_kills_the_work_and_the_pool_can_go_on() -> None:
    with Pool(2) as pool:
        outcomes = pool.run([task("double", 1), task("sleep", 60), task("sleep", 60)])
        next(outcomes)
        began = time.monotonic()
        outcomes.close()
        assert time.monotonic() - began < 1
        assert pool.map_in_order([task("double", 2)]) == [Done("double", 4)]


def test_closing_kills_quickly_and_leaves_no_process() -> None:
    before = psutil.Process().children(recursive=True)  # other tests' workers may still wait for work
    with Pool(2) as pool:
        outcomes = pool.run([task("double", 1), task("sleep", 60), task("hang_without_python", 60)])
        next(outcomes)
        time.sleep(0.3)
        children = [child for child in psutil.Process().children(recursive=True) if child not in before]
        assert len(children) == 2
        began = time.monotonic()
    assert time.monotonic() - began < 1
    assert not any(child.is_running() for child in children)


def test_what_a_task_started_in_its_group_ends_with_a_crash() -> None:
    events: Events = []
    outcomes_around(task("forked_child_holds_everything", 9), events.append)
    (copy,) = (e["data"]["copy"] for e in events if e["event"] == "report")
    time.sleep(0.1)
    assert not psutil.pid_exists(copy) or psutil.Process(copy).status() == psutil.STATUS_ZOMBIE


def test_output_that_a_runaway_process_holds_does_not_stop_the_pool() -> None:
    began = time.monotonic()
    (outcome,) = outcomes_around(task("runaway_child_holds_output"))
    assert isinstance(outcome, Done)
    psutil.Process(int(str(outcome.value))).kill()
    assert time.monotonic() - began < 4


def test_thirty_restarts_leak_no_file_and_no_thread() -> None:
    with Pool(2) as pool:
        pool.map_in_order([task("end_0")] * 2)
        files, threads = psutil.Process().num_fds(), psutil.Process().num_threads()
        pool.map_in_order([task("end_0")] * 30)
        # A thread of the last two may still be on its way out at either look: thirty leaks show all the same.
        assert psutil.Process().num_fds() <= files + 2
        assert psutil.Process().num_threads() <= threads + 2


def test_every_event_of_a_task_is_told_in_order() -> None:
    events: Events = []
    with Pool(1, events.append) as pool:
        pool.map_in_order([task("say", {"latency_frames": 64}), task("segfault")])
    told = [e for e in events if e["event"] != "said"]
    assert [(e["event"], e["task"]) for e in told] == [
        ("started", "say"),
        ("report", "say"),
        ("ended", "say"),
        ("started", "segfault"),
        ("phase", "segfault"),
        ("beat", "segfault"),
        ("ended", "segfault"),
    ]
    assert told[1]["data"] == {"latency_frames": 64}
    assert (told[4]["what"], told[4]["limit_s"]) == ("processing", 5)
    assert (told[5]["position"], told[5]["share"], told[5]["phase"]) == ("0:12.0", 0.5, "processing")
    assert (told[2]["outcome"], told[6]["outcome"]) == ("done", "crashed")
    assert {e["worker"] for e in events} == {1}


def test_lines_belong_to_the_task_that_printed_them_finished_or_not() -> None:
    events: Events = []
    with Pool(1, events.append) as pool:
        tasks = [
            task("print_without_newline", "unfinished", "1"),
            task("print_lines", [b"ende\xff", b"x" * 5_000], "2"),
            task("double", 1, "3"),
        ]
        pool.map_in_order(tasks)
    said = [(e["task"], e["line"]) for e in events if e["event"] == "said"]
    assert said == [("1", "unfinished"), ("2", "ende\ufffd"), ("2", "x" * 2_000)]


def test_too_much_printing_is_counted_and_dropped() -> None:
    events: Events = []
    with Pool(1, events.append) as pool:
        pool.map_in_order([task("print_10_mb"), task("print_lines", [b"heard"], "next")])
    of_first = [e for e in events if e["task"] == "print_10_mb"]
    assert sum(e["event"] == "said" for e in of_first) == 2_000
    (dropped,) = (e for e in events if e["event"] == "dropped")
    assert dropped["lines"] == 100_001 - 2_000
    assert dropped["bytes"] == 10_000_000 + len("the last line\n") - 2_000 * 100
    assert [e["line"] for e in events if e["event"] == "said" and e["task"] == "next"] == ["heard"]


def test_a_child_has_its_own_session_ignores_ctrl_c_and_the_parents_search_path() -> None:
    with Pool(1) as pool:
        group, path = pool.map_in_order([task("process_group"), task("search_path")])
    assert isinstance(group, Done) and isinstance(path, Done)
    pid, session, ignores = group.value  # type: ignore[misc]
    assert (session, ignores) == (pid, True)
    assert os.path.dirname(workers_tasks.__file__) in path.value  # type: ignore[operator]  # noqa: PTH120


def test_address_and_secret_are_not_on_the_command_line_or_in_the_environment() -> None:
    with Pool(1) as pool:
        (outcome,) = pool.map_in_order([task("arguments_and_environment")])
        child = pool._places[0]._child
        assert isinstance(outcome, Done) and child is not None
        assert "child.py" in str(outcome.value)
        assert child._door.secret.hex() not in str(outcome.value)
        assert child._door.address not in str(outcome.value)


def test_an_error_in_on_event_comes_out_and_the_work_ends() -> None:
    def fail(event: dict[str, object]) -> None:
        raise ZeroDivisionError

    before = psutil.Process().children()
    with Pool(2, fail) as pool:
        with pytest.raises(ZeroDivisionError):
            pool.map_in_order([task("sleep", 60)])
        assert psutil.Process().children() == before


@pytest.mark.parametrize("workers, renew_after", [(0, 1), (61, 1), (1, 0)])
def test_impossible_numbers_are_refused(workers: int, renew_after: int) -> None:
    with pytest.raises(ValueError, match="workers"):
        Pool(workers, renew_after=renew_after)


def test_a_pool_runs_one_set_of_tasks_at_a_time() -> None:
    with Pool(1) as pool:
        outcomes = pool.run([task("double", 1), task("double", 2)])
        next(outcomes)
        with pytest.raises(ValueError, match="one set of tasks"):
            next(pool.run([task("double", 3)]))


def test_a_worker_that_takes_too_much_memory_is_ended_and_the_others_go_on() -> None:
    events: Events = []
    tasks = [task("grow", (2 * 10**9, 0)), *(task("sleep", 0.3, f"good {n}") for n in range(4)), task("double", 2)]
    with Pool(2, events.append, memory_limit_bytes=300 * 10**6) as pool:
        grown, *others = pool.map_in_order(tasks)
    assert isinstance(grown, Failed)
    assert (grown.cause, grown.what.partition(" while")[0]) == (Cause.MEMORY, "used more than 0.3 GB of memory")
    assert grown.what.endswith(f"while processing at {grown.position}")
    assert all(isinstance(other, Done) for other in others)
    (ended,) = (e for e in events if e["event"] == "ended" and e["task"] == "grow")
    assert ended["outcome"] == "memory"


def test_a_worker_within_its_limit_is_left_alone() -> None:
    with Pool(1, memory_limit_bytes=400 * 10**6) as pool:
        assert pool.map_in_order([task("grow", (10**8, 2.2))]) == [Done("grow", 10**8)]


def test_a_worker_that_keeps_much_after_its_task_is_replaced_before_it_can_blame_the_next() -> None:
    with Pool(1, memory_limit_bytes=400 * 10**6) as pool:
        tasks = [task("grow_for_good", size_bytes) for size_bytes in (10**6, 3 * 10**8, 1)]
        pids = [outcome.value for outcome in pool.map_in_order(tasks)]
    assert pids[0] == pids[1] != pids[2]


@pytest.mark.parametrize("phase, asks", [("loading 'glue' (x)", True), ("loading and setting 'glue' (x)", True),
                                         ("looking up 'Ratio' of 'glue'", True), ("rendering", False)])  # fmt: skip
def test_what_hangs_while_it_loads_may_want_an_answer(phase: str, asks: bool) -> None:
    """Our own wording: the commonest reason of all for a plugin that does not come back is a licence dialog."""
    with Pool(1) as pool:
        (failed,) = pool.map_in_order([task("hang_while", phase)])
    assert isinstance(failed, Failed) and failed.cause is Cause.HUNG
    dialog = "; it may be waiting for an answer in a window of its own" if asks else ""
    assert failed.what == f"gave no sign of life for 0.3 s while {phase}{dialog}"


def test_a_hundred_megabytes_of_printing_fill_no_memory_and_leave_the_last_twenty_lines() -> None:
    before = psutil.Process().memory_info().rss
    most = [before]
    with Pool(1, lambda event: most.append(psutil.Process().memory_info().rss)) as pool:
        (failed,) = pool.map_in_order([task("print_for_a_while", 100.0)])
    assert isinstance(failed, Failed) and failed.cause is Cause.CRASHED
    assert len(failed.said) == 20
    assert "Fatal Python error: Segmentation fault" in failed.said
    assert max(most) - before < 20 * 10**6
