"""Only who knows the secret comes in, and a door that nobody used closes."""

from __future__ import annotations

import multiprocessing
import multiprocessing.util
import threading
import time
from multiprocessing.connection import Client
from pathlib import Path

import pytest

from sweeper.workers.door import Door


def test_a_stranger_stays_out_and_the_child_still_gets_in() -> None:
    rung = threading.Event()
    door = Door(rung.set)
    with pytest.raises((multiprocessing.AuthenticationError, EOFError, OSError)):
        Client(door.address, authkey=b"guessed")
    assert door.connection is None
    with Client(door.address, authkey=door.secret) as child:
        assert rung.wait(5)
        assert door.connection is not None
        child.send_bytes(b"hello")
        assert door.connection.recv_bytes() == b"hello"
    door.close()


def test_a_door_that_nobody_used_closes_at_once() -> None:
    began = time.monotonic()
    Door(lambda: None).close()
    assert time.monotonic() - began < 0.5


def test_a_temporary_folder_with_a_long_path_keeps_nobody_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A socket's path may have some hundred bytes (unix(7)); TMPDIR may have more."""
    long = tmp_path / ("deep" * 20) / ("deeper" * 10)
    long.mkdir(parents=True)
    monkeypatch.setattr(multiprocessing.util, "get_temp_dir", lambda: str(long))
    rung = threading.Event()
    door = Door(rung.set)
    with Client(door.address, authkey=door.secret):
        assert rung.wait(5)
    folder = Path(door.address).parent
    assert len(door.address) < 100
    door.close()
    assert not folder.exists()
