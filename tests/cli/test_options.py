"""What options are when they are not given."""

from __future__ import annotations

import os
import subprocess
import sys


def test_as_many_workers_as_processors_that_the_process_may_use():
    own = sorted(os.sched_getaffinity(0))
    code = ("import os; from sweeper.cli.options import processors; was = processors(); "
            f"os.sched_setaffinity(0, {{{own[0]}}}); print(was, processors())")  # fmt: skip
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert told.split() == [str(len(own)), "1"]
