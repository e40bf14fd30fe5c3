"""A revision in words: what was turned, what moved as it stands and equally loud, what did not."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

from recall_sheets import SHEET
from rich.console import Console

from sweeper.cli.show_revision import on_target, show_revision
from sweeper.plan.reach import Ending
from sweeper.quantities import Measurements
from sweeper.recall.revise import Revised
from sweeper.recall.since import Since
from sweeper.render.job import Solved
from sweeper.render.matched_null import MatchedNull
from sweeper.table.contributions import change

STILL = {"correlation": 0.9, "overs": 0.0, "plr_db": None}
BEFORE = Measurements({"loudness_lufs": -10.0, "true_peak_dbtp": -1.0, "crest_db": 9.0, **STILL})
AFTER = Measurements({"loudness_lufs": -10.5, "true_peak_dbtp": -1.5, "crest_db": 9.3, **STILL})
SOLVED = Solved("loudness_lufs", -10.5, -10.5, Ending.ON_TARGET, "limiter.Threshold", -6.5, "dB", 2, "")
MADE = Revised(
    SHEET, replace(SHEET, change="loudness -0.5 LU by limiter.drive"), Path("run"), Path("run/render.wav"), True,
    SOLVED, "limiter.Threshold", "-7.10", "-6.50", BEFORE, AFTER, change(BEFORE, AFTER),
    MatchedNull(-25.4, -40.0, 24.0), Since((), ()), ("true peak was to stay at or under -1 dBTP and is -0.80 now",),
    ("a note",),
)  # fmt: skip


def shown(made: Revised) -> list[str]:
    console = Console(width=100, record=True, file=io.StringIO(), color_system=None)
    show_revision(made, console)
    return console.export_text().splitlines()


def test_what_was_turned_and_what_moved():
    lines = shown(MADE)
    assert lines[0].startswith("variant 004 of Lantern, loudness -0.5 LU by limiter.drive: without it, it comes back")
    assert "limiter.Threshold: -7.10 → -6.50" in lines
    cells = {line.split("  ")[0]: line.split() for line in lines}
    assert cells["loudness"][1:] == ["-10.00", "LUFS", "-10.50", "-0.50", "LU", "-"]
    assert cells["true peak"][2:] == ["-1.00", "dBTP", "-1.50", "-0.50", "dB", "0.00", "dB"]
    assert cells["crest"][1:] == ["9.00", "dB", "9.30", "+0.30", "dB", "+0.30", "dB"]
    assert "as it was: overs, correlation" in lines, "and nothing that is not there"
    assert "equally loud, a null test of the two leaves -25 dB in the 3 s where it leaves most, from 0:24.0 on" in lines
    assert "mind: true peak was to stay at or under -1 dBTP and is -0.80 now" in lines
    assert "note: a note" in lines


def test_only_the_level_changed():
    words = shown(replace(MADE, null=MatchedNull(None, None, 0.0)))
    assert "equally loud, the two are the same: nothing but the level has changed" in words


def test_one_that_did_not_come_back_or_is_out_of_reach_says_so():
    missed = replace(MADE, came_back=False, solved=replace(SOLVED, ending=Ending.OUT_OF_REACH, why="its end, 0 dB"))
    words = " ".join(" ".join(shown(missed)).split())
    assert "without it, it does NOT come back as it was" in words
    assert "its end, 0 dB" in words
    assert (on_target(MADE), on_target(missed)) == (True, False)
