from __future__ import annotations

import threading

import pytest
from filelock import FileLock

from sweeper.errors import StoreError
from sweeper.render.store import lock
from sweeper.render.store.lock import LOCK_NAME, lock_file, locked, usable


def test_one_at_a_time(tmp_path):
    inside, most = [], []

    def work():
        for _ in range(20):
            with locked(tmp_path):
                inside.append(1)
                most.append(len(inside))
                inside.pop()

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (len(most), max(most)) == (80, 1)


def test_whoever_holds_it_for_too_long_is_told_of(tmp_path, monkeypatch):
    monkeypatch.setattr(lock, "PATIENCE_S", 0.1)
    held = threading.Event(), threading.Event()

    def hold():
        with lock_file(tmp_path / LOCK_NAME):
            held[0].set()
            held[1].wait(10)

    holder = threading.Thread(target=hold)
    holder.start()
    held[0].wait(10)
    try:
        with pytest.raises(StoreError, match="another sweeper has held") as caught, locked(tmp_path):
            pass
        assert "--store-limit 0" in caught.value.remedy
    finally:
        held[1].set()
        holder.join()


def test_the_lock_is_the_systems_and_ours_is_given_back(tmp_path):
    with pytest.raises(RuntimeError, match="ours"), locked(tmp_path):
        raise RuntimeError("ours")
    with FileLock(tmp_path / LOCK_NAME, timeout=0):
        pass


def test_what_the_system_refuses_is_said_with_a_remedy(tmp_path):
    with pytest.raises(StoreError, match="Input/output error") as caught, usable(tmp_path):
        raise OSError(5, "Input/output error")
    assert str(tmp_path) in caught.value.what
    assert "SWEEPER_STORE" in caught.value.remedy and "--store-limit 0" in caught.value.remedy
    assert caught.value.exit_code == 5
