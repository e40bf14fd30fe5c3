"""A run's desk: who hears what, and that nothing is left behind."""

from __future__ import annotations

import shutil

import pytest

from sweeper.errors import StoreError
from sweeper.render.desk import Watcher, opened
from sweeper.render.store import Store
from sweeper.workers import Task


def ignored(event) -> None:
    """Nobody watches."""


def test_beats_are_watched_and_not_logged():
    watched: list[object] = []
    logged: list[object] = []
    watcher = Watcher(watched.append)
    watcher({"event": "phase", "n": 1})
    watcher.log = logged.append
    events = [{"event": "phase", "n": 2}, {"event": "beat", "n": 3}, {"event": "said", "n": 4}]
    for event in events:
        watcher(event)
    assert watched == [{"event": "phase", "n": 1}, *events]
    assert logged == [events[0], events[2]], "what came before the log is not made up for"


def test_the_workers_events_reach_the_one_who_watches(tmp_path):
    watched: list[dict[str, object]] = []
    with opened(1, 60.0, tmp_path / "store", 10**6, watched.append) as desk:
        (done,) = desk.pool.map_in_order([Task("one", "workers_tasks:double", 21.0, "a test")])
        assert done.value == 42
        assert (desk.workers, desk.patience_s) == (1, 60.0)
    assert {event.get("task", event.get("key")) for event in watched} >= {"one"}


def test_a_lease_ends_with_the_desk(tmp_path):
    key = "ab" * 32
    with opened(1, 60.0, tmp_path / "store", 1000, ignored) as desk:
        assert desk.store.reserve(key, 900)
        with Store(tmp_path / "store", 1000) as other:
            assert not other.reserve("cd" * 32, 900), "the room is taken"
    with Store(tmp_path / "store", 1000) as other:
        assert other.reserve("cd" * 32, 900)


def test_nobody_says_where_so_it_is_the_users_own_store_and_a_fifth_of_what_is_free(tmp_path, monkeypatch):
    monkeypatch.setenv("SWEEPER_STORE", str(tmp_path / "mine"))
    with opened(1, 60.0, None, None, ignored) as desk:
        assert desk.store.folder == tmp_path / "mine"
        assert desk.store.limit_bytes == pytest.approx(shutil.disk_usage(tmp_path).free / 5, rel=0.02)


def test_a_limit_of_nothing_leaves_the_folder_alone(tmp_path):
    with opened(1, 60.0, tmp_path / "store", 0, ignored) as desk:
        assert desk.store.limit_bytes == 0
    assert not (tmp_path / "store").exists()


def test_a_store_that_cannot_be_made_is_an_error(tmp_path):
    (tmp_path / "store").write_text("")
    with pytest.raises(StoreError), opened(1, 60.0, tmp_path / "store", 10**6, ignored):
        pass
