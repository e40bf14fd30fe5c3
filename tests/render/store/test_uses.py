from __future__ import annotations

import time

import pytest

from sweeper.render.store.contents import Found
from sweeper.render.store.uses import USES_NAME, Uses


def in_order(uses, found=None):
    return [key for key, _ in sorted(uses.read(found or {}).items(), key=lambda each: each[1])]


def test_the_last_use_counts(tmp_path):
    uses = Uses(tmp_path)
    for key in "abca":
        uses.mark(key)
    assert in_order(uses) == ["b", "c", "a"]
    assert in_order(Uses(tmp_path)) == ["b", "c", "a"]


def test_a_use_has_the_time_of_the_clock(tmp_path):
    before = time.time_ns()
    Uses(tmp_path).mark("a")
    assert before <= Uses(tmp_path).read({})["a"] <= time.time_ns()


@pytest.mark.parametrize("clock", [[900, 500, 100], [7, 7, 7], [0, 0, 0]])
def test_a_clock_that_is_set_back_turns_nothing_round(tmp_path, monkeypatch, clock):
    ticks = iter(clock)
    monkeypatch.setattr(time, "time_ns", lambda: next(ticks))
    for key in "abc":
        Uses(tmp_path).mark(key)
    assert in_order(Uses(tmp_path)) == ["a", "b", "c"]


def test_entries_of_which_no_use_is_known_are_as_old_as_their_files(tmp_path, monkeypatch):
    uses = Uses(tmp_path)
    monkeypatch.setattr(time, "time_ns", lambda: 1000)
    uses.mark("known")
    found = {"old": Found(True, 1, 5), "new": Found(True, 1, 5000), "known": Found(True, 1, 9000)}
    assert in_order(uses, found) == ["old", "known", "new"]


@pytest.mark.parametrize("content", [b"", b"{", b"[1]", b'{"a": "x"}', b'{"a": null}', b"\xff\xfe"])
def test_a_lost_list_costs_the_order_and_nothing_else(tmp_path, content):
    (tmp_path / USES_NAME).write_bytes(content)
    uses = Uses(tmp_path)
    assert uses.read({"b": Found(True, 1, 3)}) == {"b": 3}
    uses.mark("a")
    assert in_order(uses) == ["a"]


def test_a_disk_that_is_full_leaves_the_list_as_it_was(tmp_path, monkeypatch):
    from pathlib import Path

    def full(self, *_, **__):
        raise OSError(28, "No space left on device")

    uses = Uses(tmp_path)
    uses.mark("a")
    with monkeypatch.context() as patched:
        patched.setattr(Path, "replace", full)
        with pytest.raises(OSError, match="No space left"):
            uses.mark("b")
    assert in_order(uses) == ["a"]
    assert [path.name for path in tmp_path.iterdir()] == [USES_NAME]
