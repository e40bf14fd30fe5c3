"""Progress: on a terminal a bar and a line a variant, elsewhere nothing."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from invented_rows import failed, loudness_solved, measured, row
from rich.console import Console

from sweeper.cli.progress import RunProgress, line_of
from sweeper.plan.reach import Ending
from sweeper.plan.work import step_task
from sweeper.table.row import OnExcerpts


def terminal() -> Console:
    return Console(width=100, file=io.StringIO(), force_terminal=True, color_system=None, highlight=False)


def watched(console: Console, quiet: bool = False) -> RunProgress:
    progress = RunProgress(quiet, console)
    progress.event({"event": "phase", "task": "0", "what": "measuring mix.wav"})
    progress.event({"event": "rendering", "variants": 4})
    return progress


def phase(task: str, what: str = "rendering") -> dict[str, object]:
    return {"event": "phase", "task": task, "what": what}


def state(progress: RunProgress) -> tuple[str, float]:
    assert progress._bar is not None
    (task,) = progress._bar.tasks
    return task.description, task.completed


@pytest.mark.parametrize(("quiet", "is_terminal"), [(True, True), (False, False), (True, False)])
def test_nothing_is_said_when_quiet_or_where_nobody_watches(quiet, is_terminal):
    console = Console(width=100, file=io.StringIO(), force_terminal=is_terminal)
    with watched(console, quiet) as progress:
        progress.event(phase("001"))
        progress.row_done(row("001", measured()))
        progress.row_done(failed("002"))
    assert console.file.getvalue() == ""


def test_a_terminal_gets_a_line_a_variant_and_is_told_what_is_being_rendered():
    console = terminal()
    with watched(console) as progress:
        progress.event(phase("001"))
        progress.event(phase("002"))
        assert state(progress)[0] == "rendering 001, 002"
        progress.row_done(row("001", measured(-10.04)))
    assert "1/4 variant 001 (glue.Threshold -001 dB): -10.04 LUFS, -1.00 dBTP, 3 passes" in console.file.getvalue()


def test_tries_on_excerpts_are_told_as_such_and_renders_counted_anew():
    console = terminal()
    with RunProgress(False, console) as progress:
        progress.event({"event": "trying", "variants": 1})
        progress.event(phase("001"))
        assert state(progress)[0] == "trying on excerpts 001"
        heard = OnExcerpts(measured(-10.04), (), (loudness_solved(-10.5, Ending.OUT_OF_REACH, "the end"),), 0.5)
        progress.row_done(replace(row("001", measured()), status="tried", measurements=None, on_excerpts=heard))
        progress.event({"event": "rendering", "variants": 2})
        progress.event(phase("001"))
        assert state(progress) == ("rendering 001", 0.0)
        progress.row_done(row("001", measured()))
    said = console.file.getvalue()
    assert "1/1 variant 001 (glue.Threshold -001 dB): on excerpts -10.04 LUFS, -1.00 dBTP, loudness is out of" in said
    assert "1/2 variant 001" in said


def test_before_the_first_render_the_phase_is_shown():
    progress = RunProgress(False, terminal())
    assert state(progress)[0] == "measuring the mix"
    progress.event(phase("0", "loading 'glue'"))
    assert state(progress)[0] == "loading 'glue'"


def test_a_shared_step_is_told_and_counts_as_no_variant():
    progress = watched(terminal())
    for task in (step_task("ab" * 32), step_task("cd" * 32)):
        progress.event(phase(task))
        progress.event({"event": "beat", "task": task, "share": 0.9})
    assert state(progress) == ("rendering 2 shared steps", 0)
    progress.event(phase("003"))
    progress.event({"event": "ended", "task": step_task("ab" * 32)})
    assert state(progress) == ("rendering 003, 1 shared step", 0)


def test_the_bar_moves_inside_a_variant_and_never_backwards():
    progress = watched(terminal())
    seen = []
    for event in [phase("001"), *[{"event": "beat", "task": "001", "share": n / 4} for n in range(5)], phase("001"),
                  {"event": "beat", "task": "001", "share": 0.5},
                  {"event": "beat", "task": "001", "share": 0.4}, phase("001", "writing"),
                  {"event": "ended", "task": "001"}]:  # fmt: skip
        progress.event(event)
        seen.append(state(progress)[1])
    progress.row_done(row("001", measured()))
    seen.append(state(progress)[1])
    assert seen == sorted(seen)
    assert 0.5 < seen[-2] < 1
    progress.event(phase("002"))
    assert seen[-1] == state(progress)[1] == 1


def test_after_the_last_variant_the_copies_are_told():
    progress = watched(terminal())
    for n in range(1, 5):
        progress.row_done(row(f"00{n}", measured()))
    progress.event(phase("0", "copying"))
    assert state(progress) == ("writing the listening copies", 4)


def test_a_line_says_what_came_of_a_variant():
    missed = row("001", measured(-9.31), (), [loudness_solved(-9.31, Ending.OUT_OF_REACH, "the end of its way, 0")])
    assert "loudness is out of reach: closest -9.31 LUFS" in line_of(missed)
    assert "met" not in line_of(row("001", measured(), (), [loudness_solved()]))
    assert "failed: stage 'glue' crashed" in line_of(failed("002"))
