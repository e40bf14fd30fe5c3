"""How much memory a process takes, seen from outside, and held against a limit."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from sweeper.workers.memory import Gauge, default_limit_bytes, in_gigabytes, resident_bytes

GB = 10**9


def status_kib(name: str) -> int:
    """A figure of this process as the kernel writes it: proc(5), /proc/[pid]/status."""
    found = re.search(rf"^{name}:\s+(\d+) kB$", Path("/proc/self/status").read_text("ascii"), re.MULTILINE)
    assert found is not None
    return int(found[1])


def test_what_a_process_holds_is_what_the_kernel_says_of_it():
    assert resident_bytes(os.getpid()) == pytest.approx(1024 * status_kib("VmRSS"), rel=0.05)


def test_a_process_that_is_over_holds_nothing():
    done = subprocess.Popen([sys.executable, "-c", ""])
    done.wait()
    assert resident_bytes(done.pid) == 0


@pytest.mark.parametrize(("total_gb", "workers", "limit_gb"), [(16, 1, 8), (16, 3, 4), (64, 2, 8), (8, 7, 1),
                                                         (4, 7, 1)])  # fmt: skip
def test_workers_share_what_the_machine_has(monkeypatch, total_gb, workers, limit_gb):
    memory = type("Memory", (), {"total": total_gb * GB})
    monkeypatch.setattr("sweeper.workers.memory.psutil.virtual_memory", lambda: memory)
    assert default_limit_bytes(workers) == limit_gb * GB


def test_a_gauge_looks_once_a_second(monkeypatch):
    looks: list[int] = []
    monkeypatch.setattr("sweeper.workers.memory.resident_bytes", lambda pid: looks.append(pid) or 5 * GB)
    gauge = Gauge(4 * GB)
    past = [gauge.is_past(7, now_s) for now_s in (100.0, 100.2, 100.9, 101.0, 101.5)]
    assert past == [True, False, False, True, False]
    assert looks == [7, 7]


@pytest.mark.parametrize(("held_gb", "past", "much"), [(4.1, True, True), (3.9, False, True), (2.1, False, True),
                                                       (1.9, False, False)])  # fmt: skip
def test_past_the_limit_is_too_much_and_half_of_it_too_much_to_keep(monkeypatch, held_gb, past, much):
    monkeypatch.setattr("sweeper.workers.memory.resident_bytes", lambda pid: int(held_gb * GB))
    gauge = Gauge(4 * GB)
    assert (gauge.is_past(7, 0.0), gauge.keeps_much(7)) == (past, much)


SIZES = [(8 * GB, "8 GB"), (7_733_248_000, "7.73 GB"), (600 * 10**6, "0.6 GB")]


@pytest.mark.parametrize(("size_bytes", "words"), SIZES)
def test_sizes_in_words_are_of_10_to_the_9_bytes(size_bytes, words):
    """SI: giga is 10^9."""
    assert in_gigabytes(size_bytes) == words
