"""Children never outlive their parent, however it ends, nor a pool its Ctrl-C."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psutil
import pytest

PROGRAM = Path(__file__).parents[1] / "workers_program.py"


@contextmanager
def program(*tasks: str) -> Iterator[tuple[subprocess.Popen[str], list[psutil.Process]]]:
    """A running program once all of its tasks have begun, and its worker processes."""
    command = [sys.executable, str(PROGRAM), *tasks]
    with (
        tempfile.TemporaryDirectory() as folder,  # a killed parent cannot tidy up; a test's own path is too long
        subprocess.Popen(
            command,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env={**os.environ, "TMPDIR": folder},
        ) as process,
    ):
        assert process.stdout is not None
        children = []
        while len(children) < len(tasks):
            event, pid = process.stdout.readline().split()
            if event == "started":
                children.append(psutil.Process(int(pid)))
        time.sleep(0.1)  # into the task itself
        yield process, children
        process.kill()


def living(children: list[psutil.Process]) -> list[psutil.Process]:
    return [c for c in children if c.is_running() and c.status() != psutil.STATUS_ZOMBIE]


def seconds_until_gone(children: list[psutil.Process], limit_s: float) -> float:
    began = time.monotonic()
    while living(children):
        assert time.monotonic() - began < limit_s, children
        time.sleep(0.02)
    return time.monotonic() - began


def test_ctrl_c_ends_everything_and_is_a_keyboard_interrupt() -> None:
    with program("sleep:60", "hang_without_python:60") as (process, children):
        began = time.monotonic()
        process.send_signal(signal.SIGINT)
        errors = process.communicate(timeout=5)[1]
        assert time.monotonic() - began < 2
        assert errors.rstrip().endswith("KeyboardInterrupt")
        assert living(children) == []


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM])
def test_children_go_when_the_parent_is_killed(how: signal.Signals) -> None:
    with program("sleep:60", "hang:60") as (process, children):
        assert len(living(children)) == 2
        process.send_signal(how)
        seconds_until_gone(children, 2)


def test_a_child_that_holds_pythons_lock_goes_after_its_limit_and_the_grace() -> None:
    with program("hang_without_python:0.7") as (process, children):
        process.kill()
        took_s = seconds_until_gone(children, 2)
    assert took_s > 0.3  # it was the watchdog: nothing else can end such a process
