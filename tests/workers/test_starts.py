"""Children that do not start are an error in words, after three in a row."""

from __future__ import annotations

import sys
from pathlib import Path

import psutil
import pytest

from sweeper.errors import SweeperError
from sweeper.workers import Done, Pool, Task
from sweeper.workers.starts import Starts

TASK = Task("double", "workers_tasks:double", 1, "a test")


def test_only_three_in_a_row_are_too_many() -> None:
    starts = Starts()
    starts.failed("died", ())
    starts.failed("died", ())
    starts.succeeded()
    starts.failed("died", ())
    starts.failed("died", ())
    with pytest.raises(SweeperError, match=r"3 worker processes.*the last one died\n    \| why"):
        starts.failed("died", ["why"])


def test_a_child_that_ends_at_once_is_quoted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    broken = tmp_path / "child.py"
    broken.write_text("import sys\nprint('a library is missing')\nsys.exit(4)\n", encoding="ascii")
    monkeypatch.setattr("sweeper.workers.supervisor.CHILD", broken)
    with Pool(2) as pool, pytest.raises(SweeperError) as caught:
        pool.map_in_order([TASK, TASK])
    assert "ended by itself with exit code 4\n    | a library is missing" in caught.value.what
    assert "with the same Python" in caught.value.remedy


def test_a_child_that_never_gets_ready_is_killed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    silent = tmp_path / "child.py"
    silent.write_text("import time\ntime.sleep(60)\n", encoding="ascii")
    monkeypatch.setattr("sweeper.workers.supervisor.CHILD", silent)
    monkeypatch.setattr("sweeper.workers.place.START_LIMIT_S", 0.2)
    before = psutil.Process().children()
    with Pool(1) as pool, pytest.raises(SweeperError, match=r"was not ready within 0\.2 s"):
        pool.map_in_order([TASK])
    assert psutil.Process().children() == before


def test_no_process_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "executable", str(tmp_path / "no-python"))
    with Pool(1) as pool, pytest.raises(SweeperError, match=r"could not be started .*no-python"):
        pool.map_in_order([TASK])


def test_after_one_failed_start_the_task_is_still_done(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from sweeper.workers import supervisor

    once = tmp_path / "child.py"
    mark = tmp_path / "mark"
    once.write_text(
        f"import pathlib, runpy, sys\nmark = pathlib.Path({str(mark)!r})\n"
        f"if not mark.exists():\n    mark.touch()\n    sys.exit(4)\n"
        f"runpy.run_path({str(supervisor.CHILD)!r}, run_name='__main__')\n",
        encoding="utf-8",
    )
    monkeypatch.setattr("sweeper.workers.supervisor.CHILD", once)
    with Pool(1) as pool:
        assert pool.map_in_order([TASK]) == [Done("double", 2)]
