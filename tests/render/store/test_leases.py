from __future__ import annotations

import os

import pytest
from store_program import child, key, put, sound

from sweeper.errors import StoreError
from sweeper.render.store.leases import LEASES_NAME, Leases


@pytest.fixture(name="leases")
def _leases(tmp_path):
    opened = Leases(tmp_path)
    opened.open()
    yield opened
    opened.close()


def test_leases_are_counted(leases):
    leases.take("a", 10)
    leases.take("a", 0)
    leases.give_back("a")
    assert "a" in leases and leases.all() == {"a": 10}
    leases.give_back("a")
    assert "a" not in leases and leases.all() == {}
    with pytest.raises(ValueError, match="a is not leased"):
        leases.give_back("a")


def test_what_others_need_is_seen_and_the_larger_promise_counts(leases, tmp_path):
    other = Leases(tmp_path)
    other.open()
    leases.take("a", 10)
    other.take("a", 30)
    other.take("b", 5)
    assert leases.all() == other.all() == {"a": 30, "b": 5}
    assert "b" not in leases
    other.close()
    assert leases.all() == {"a": 10}


def test_closing_leaves_no_file(leases, tmp_path):
    other = Leases(tmp_path)
    other.open()
    other.take("a", 1)
    other.close()
    assert len(list((tmp_path / LEASES_NAME).iterdir())) == 2, "those of the one still open"


def test_a_killed_process_holds_nothing(leases, tmp_path):
    put(tmp_path, key(1), sound(200))
    holder = child("hold", tmp_path, key(1))
    assert holder.stdout.readline() == "True\n"
    assert leases.all() == {key(1): 0, key("promised"): 10_000}
    holder.kill()
    holder.communicate(timeout=30)
    assert leases.all() == {}
    assert len(list((tmp_path / LEASES_NAME).iterdir())) == 2


def test_a_dead_process_whose_number_runs_again_holds_nothing(leases, tmp_path):
    """Process numbers come round: here one that lives, our own, in the name of a file that nobody locks."""
    name = f"{os.getpid()}-0badcafe"
    (tmp_path / LEASES_NAME / f"{name}.lock").write_bytes(b"")
    (tmp_path / LEASES_NAME / f"{name}.json").write_text('{"a": 5}')
    assert leases.all() == {}
    assert not (tmp_path / LEASES_NAME / f"{name}.json").exists()


def test_a_damaged_list_of_a_living_process_stops_us(leases, tmp_path):
    other = Leases(tmp_path)
    other.open()
    (listed,) = [path for path in (tmp_path / LEASES_NAME).glob("*.json") if path.stem in other._lock.lock_file]
    listed.write_text("{")
    with pytest.raises(StoreError, match="is damaged"):
        leases.all()
    listed.unlink()
    assert leases.all() == {}
    other.close()


def test_a_list_that_cannot_be_written_changes_nothing(leases, monkeypatch):
    from pathlib import Path

    def full(self, *_, **__):
        raise OSError(28, "No space left on device")

    leases.take("a", 3)
    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(OSError, match="No space left"):
        leases.take("b", 5)
    with pytest.raises(OSError, match="No space left"):
        leases.give_back("a")
    assert leases.all() == {"a": 3} and "b" not in leases and "a" in leases
