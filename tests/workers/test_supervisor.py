"""One child, without a pool around it."""

from __future__ import annotations

import pickle
import threading
import time

import psutil
import pytest

from sweeper.workers.messages import Begun, Message, Order, Ready, Returned
from sweeper.workers.supervisor import Child, ConnectionEnded


def next_message(child: Child) -> Message:
    began = time.monotonic()
    while (message := child.message()) is None:
        assert time.monotonic() - began < 5
        time.sleep(0.005)
    return message


def test_a_child_gets_ready_works_and_is_gone_once_closed() -> None:
    rung = threading.Event()
    child = Child(15, rung.set)
    assert next_message(child) == Ready()
    assert rung.is_set()
    child.send(Order("workers_tasks:double", pickle.dumps(4)))
    assert [next_message(child), next_message(child)] == [Begun(), Returned(8)]
    assert not child.has_died()
    child.close()
    assert not psutil.pid_exists(child.pid)


def test_sending_returns_at_once_even_when_the_child_never_reads() -> None:
    child = Child(15, lambda: None)
    next_message(child)
    psutil.Process(child.pid).suspend()
    began = time.monotonic()
    child.send(Order("workers_tasks:size", pickle.dumps(bytes(50_000_000))))
    assert time.monotonic() - began < 1
    child.close()
    assert time.monotonic() - began < 2


def test_a_killed_child_ends_its_connection() -> None:
    child = Child(15, lambda: None)
    next_message(child)
    child.kill()
    with pytest.raises(ConnectionEnded):
        next_message(child)
    assert child.exit_code() == -9
    child.close()
