"""What was printed is kept, task by task, in bounds."""

from __future__ import annotations

import os
import threading

import pytest

from sweeper.workers.output import BYTES_KEPT, LINES_KEPT, Heard, Output

FENCE = b"0123456789abcdef"


def printed(*pieces: bytes) -> tuple[list[str], list[Heard]]:
    """The kept lines and the accounts of a child that prints `pieces`, one write each, and ends."""
    reading, writing = os.pipe()
    output = Output(os.fdopen(reading, "rb", buffering=0), FENCE, lambda: None)
    for piece in pieces:
        os.write(writing, piece)
    os.close(writing)
    output.close(5)
    accounts = []
    while (account := output.account(0)) is not None:
        accounts.append(account)
    return output.lines(), accounts


def test_a_fence_ends_a_tasks_account_whether_its_last_line_is_finished_or_not() -> None:
    lines, accounts = printed(b"a\nb\n" + FENCE + b"\nc\nunfini", b"shed" + FENCE + b"\n", b"rest")
    assert lines == ["a", "b", "c", "unfinished", "rest"]
    assert [account.last for account in accounts] == [("a", "b"), ("c", "unfinished"), ("rest",)]


@pytest.mark.parametrize("cut", range(1, len(FENCE) + 4))
def test_a_fence_may_arrive_in_two_pieces(cut: int) -> None:
    whole = b"a\n" + FENCE + b"\n"
    lines, accounts = printed(whole[:cut], whole[cut:], b"b")
    assert (lines, [account.last for account in accounts]) == (["a", "b"], [("a",), ("b",)])


def test_an_empty_line_is_a_line() -> None:
    assert printed(b"a\n\n\nb\r\n")[0] == ["a", "", "", "b"]


def test_lines_beyond_the_limit_are_counted_and_the_last_ones_known() -> None:
    lines, (first, second, _) = printed(
        *(b"%d\n" % number for number in range(LINES_KEPT + 30)), FENCE + b"\n", b"next\n" + FENCE + b"\n"
    )
    assert lines == [*map(str, range(LINES_KEPT)), "next"]
    assert first.dropped_lines == 30
    assert first.dropped_bytes == 30 * len("2000\n")
    assert first.last == tuple(map(str, range(LINES_KEPT + 10, LINES_KEPT + 30)))
    assert second == Heard(("next",), 0, 0)


def test_bytes_beyond_the_limit_are_counted() -> None:
    line = b"x" * 999 + b"\n"
    _, (account,) = printed(*([line] * (BYTES_KEPT // 1_000 + 5)))
    assert (account.dropped_lines, account.dropped_bytes) == (5, 5_000)


def test_an_endless_line_is_cut_and_its_fence_still_found() -> None:
    lines, accounts = printed(*([b"x" * 60_000] * 20), b"tail" + FENCE + b"\n", b"next")
    assert lines == ["x" * 2_000, "next"]
    assert len(accounts) == 2


def test_bytes_that_are_no_text_are_replaced() -> None:
    assert printed("µ".encode() + b"\xff\n")[0] == ["µ\ufffd"]


def test_memory_does_not_grow_with_a_line_that_never_ends() -> None:
    reading, writing = os.pipe()
    output = Output(os.fdopen(reading, "rb", buffering=0), FENCE, lambda: None)
    for _ in range(100):
        os.write(writing, b"x" * 60_000)
    assert len(output._rest) < 200_000
    os.close(writing)
    output.close(5)


def test_an_account_is_waited_for_no_longer_than_said() -> None:
    reading, writing = os.pipe()
    rung = threading.Event()
    output = Output(os.fdopen(reading, "rb", buffering=0), FENCE, rung.set)
    os.write(writing, b"so far\n")
    assert rung.wait(5)
    assert output.account(0.05) is None
    assert output.unfinished() == Heard(("so far",), 0, 0)
    os.close(writing)
    output.close(5)
