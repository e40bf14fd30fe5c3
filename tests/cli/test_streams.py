"""The answer's reader may go early; the exit code stays the verb's own."""

from __future__ import annotations

import subprocess
import sys

PROGRAM = """
import sys
from sweeper.cli.streams import out
for number in range(20000):
    out().print("a line of the answer", number)
sys.exit(4)
"""


def test_a_reader_that_goes_early_changes_no_exit_code_and_hears_no_complaint():
    with subprocess.Popen([sys.executable, "-c", PROGRAM], stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"a line of the answer 0\n"
        process.stdout.close()
        assert process.stderr is not None
        assert process.stderr.read() == b""
        assert process.wait(timeout=60) == 4
