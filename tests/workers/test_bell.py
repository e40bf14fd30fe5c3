"""A bell wakes who waits, however often it is rung."""

from __future__ import annotations

from sweeper.workers.bell import Bell


def test_many_rings_are_one_and_are_cleared_together() -> None:
    bell = Bell()
    assert not bell.reader.poll()
    for _ in range(100_000):  # a pipe would be full long before
        bell.ring()
    assert bell.reader.poll()
    bell.clear()
    assert not bell.reader.poll()
    bell.ring()
    assert bell.reader.poll()
    bell.close()
    bell.ring()
