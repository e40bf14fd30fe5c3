"""Whatever one task does to its process, it is one outcome, soon, and its neighbours are done."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest
import workers_tasks

from sweeper.workers import Cause, Done, Failed, Pool, Task

SEGFAULT = "crashed with a segmentation fault (SIGSEGV)"


@pytest.fixture(scope="module")
def pool() -> Iterator[Pool]:
    """One for all of these tests: it must survive every one."""
    with Pool(2) as pool:
        yield pool


def task(function: str, argument: object = None, key: str = "") -> Task:
    return Task(key or function, f"workers_tasks:{function}", argument, "a test")


def outcome_among_good_ones(pool: Pool, odd: Task) -> Done | Failed:
    """Of `odd` among three good tasks, with two workers; the good ones are checked."""
    good = [task("double", number, key=f"good {number}") for number in (1, 2, 3)]
    first, outcome, *others = pool.map_in_order([good[0], odd, *good[1:]])
    assert [first, *others] == [Done("good 1", 2), Done("good 2", 4), Done("good 3", 6)]
    return outcome


FAILURES = [  # function, argument, cause, what it says, seconds at most
    ("segfault", None, Cause.CRASHED, f"{SEGFAULT} while processing at 0:12.0", 3),
    ("c_print_then_segfault", None, Cause.CRASHED, f"{SEGFAULT} while starting", 3),
    ("abort", None, Cause.CRASHED, "crashed with an abort (SIGABRT) while starting", 3),
    (
        "kill_itself",
        None,
        Cause.CRASHED,
        "was killed (SIGKILL), as the system does when memory runs out, while starting",
        3,
    ),
    ("end_0", None, Cause.ENDED, "ended by itself with exit code 0 while loading My Comp", 3),
    ("exit_in_c", None, Cause.ENDED, "ended by itself with exit code 7 while starting", 3),
    ("sys_exit_3", None, Cause.ENDED, "ended by itself with exit code 3 while starting", 3),
    ("sys_exit_words", None, Cause.ENDED, "ended by itself with exit code 1 while starting", 3),
    ("hang", 0.3, Cause.HUNG, "gave no sign of life for 0.3 s while processing", 3),
    ("hang_without_python", 0.3, Cause.HUNG, "gave no sign of life for 0.3 s while processing", 3),
    ("stop_itself", 0.3, Cause.HUNG, "gave no sign of life for 0.3 s while processing", 3),
    ("print_for_ever", 0.3, Cause.HUNG, "gave no sign of life for 0.3 s while processing", 3),
    ("print_one_endless_line", 0.3, Cause.HUNG, "gave no sign of life for 0.3 s while processing", 3),
    (
        "close_every_descriptor",
        9,
        Cause.HUNG,
        "cut itself off without ending while processing, and was killed",
        4,
    ),
    (
        "forked_child_holds_everything",
        9,
        Cause.CRASHED,
        "was killed (SIGKILL), as the system does when memory runs out, while processing",
        3,
    ),
    ("raise_ours", None, Cause.ERROR, "Drive is 11 dB, its range is 0 to 10 dB", 3),
    (
        "raise_value_error",
        None,
        Cause.ERROR,
        "failed with ValueError: not a number of dB while weighing at 0:12.0",
        3,
    ),
    ("raise_interrupt", None, Cause.ERROR, "failed with KeyboardInterrupt while starting", 3),
    (
        "raise_stubborn",
        None,
        Cause.ERROR,
        "failed with workers_tasks.Stubborn: 1 and 2 while starting",
        3,
    ),
    (
        "return_a_lock",
        None,
        Cause.ERROR,
        "failed: what it returned cannot leave the process (TypeError: cannot pickle '_thread.lock' object)"
        " while starting",
        3,
    ),
    (
        "return_local",
        None,
        Cause.ERROR,
        "failed: what it sent cannot be read here (ValueError: made for another process) while starting",
        3,
    ),
    (
        "double",
        workers_tasks.Local(),
        Cause.ERROR,
        "failed with ValueError: made for another process while starting",
        3,
    ),
    (
        "no_such_function",
        None,
        Cause.ERROR,
        "failed with AttributeError: module 'workers_tasks' has no attribute 'no_such_function'"
        " while starting",
        3,
    ),
]


@pytest.mark.parametrize("function, argument, cause, what, seconds", FAILURES, ids=[f[0] for f in FAILURES])
def test_a_failing_task_is_one_outcome_and_the_others_are_done(
    pool: Pool, function: str, argument: object, cause: Cause, what: str, seconds: float
) -> None:
    began = time.monotonic()
    outcome = outcome_among_good_ones(pool, task(function, argument))
    assert isinstance(outcome, Failed)
    assert (outcome.key, outcome.cause, outcome.what) == (function, cause, what)
    assert time.monotonic() - began < seconds


@pytest.mark.parametrize(
    "function, argument, value",
    [
        ("print_10_mb", None, "printed"),
        ("close_stdout", None, "closed"),
        ("close_every_standard_stream", None, "closed"),
        ("read_stdin", None, ""),
        ("size", bytes(5_000_000), 5_000_000),
        ("big", 5_000_000, bytes(5_000_000)),
        ("beat_long", 0.2, "alive"),
        ("beat_much", 2_000, "alive"),
        ("leave_a_thread_reporting", None, "returned"),
        ("in_main_thread", None, True),
        ("main_file", None, "child.py"),
    ],
)
def test_an_unusual_task_is_done(pool: Pool, function: str, argument: object, value: object) -> None:
    assert outcome_among_good_ones(pool, task(function, argument)) == Done(function, value)
