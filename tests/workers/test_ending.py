"""Exit codes in words. Statuses from Microsoft's [MS-ERREF] 2.3.1; signals from POSIX <signal.h> (from memory)."""

from __future__ import annotations

import signal
import subprocess
import sys

import pytest

from sweeper.workers.ending import ending
from sweeper.workers.task import Cause


@pytest.mark.parametrize(
    "exit_code, cause, what",
    [
        (0, Cause.ENDED, "ended by itself with exit code 0"),
        (255, Cause.ENDED, "ended by itself with exit code 255"),
        (-signal.SIGSEGV, Cause.CRASHED, "crashed with a segmentation fault (SIGSEGV)"),
        (-signal.SIGFPE, Cause.CRASHED, "crashed with an arithmetic error (SIGFPE)"),
        (-signal.SIGTERM, Cause.CRASHED, "was ended by a signal (SIGTERM)"),
        (-250, Cause.CRASHED, "was ended by a signal (signal 250)"),
        (0xC0000005, Cause.CRASHED, "crashed with an access violation (0xC0000005)"),
        (0xC0000006, Cause.CRASHED, "crashed (0xC0000006)"),
    ],
)
def test_an_exit_code_has_a_cause_and_a_sentence(exit_code: int, cause: Cause, what: str) -> None:
    assert ending(exit_code) == (cause, what)


def test_subprocess_gives_a_signal_as_a_negative_number() -> None:
    command = [sys.executable, "-c", "import os, signal; os.kill(os.getpid(), signal.SIGILL)"]
    exit_code = subprocess.run(command, check=False).returncode
    assert ending(exit_code) == (Cause.CRASHED, "crashed with an illegal instruction (SIGILL)")
