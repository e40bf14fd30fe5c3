"""The watchdog's last words are told from a process that ended by itself."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from sweeper.workers.watchdog import fired

PROGRAM = (
    "import ctypes, sys; from sweeper.workers.watchdog import Watchdog; dog = Watchdog(2, 0.1)\n"
    "dog.arm(0.1)\nif 'off' in sys.argv: dog.arm(None)\nctypes.PyDLL(None).usleep(400_000)"
)


@pytest.mark.parametrize("words, ends", [((), True), (("off",), False)])
def test_it_ends_a_process_that_holds_pythons_lock(words: tuple[str, ...], ends: bool) -> None:
    command = [sys.executable, "-c", PROGRAM, *words]
    run = subprocess.run(command, capture_output=True, text=True, check=False, env=dict(os.environ))
    assert fired(run.returncode, run.stderr.splitlines()) is ends
    assert run.returncode == (1 if ends else 0)


def test_other_ends_are_not_its_doing() -> None:
    assert not fired(1, ["Timeout while loading"])
    assert not fired(0, ["Timeout (0:00:16)!"])
