"""A recall in words: what has changed, the stage that is not what it was, and how close it can come."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import pytest
from recall_sheets import SHEET
from rich.console import Console

from sweeper.audio.null import Null
from sweeper.cli import show_every, show_recall
from sweeper.recall.again import Recalled
from sweeper.recall.differences import Difference
from sweeper.recall.every import Line
from sweeper.recall.find import Found
from sweeper.recall.since import Since
from sweeper.recall.stagewise import Behind
from sweeper.recall.verdict import Floor

CHANGED = Difference("'glue' (Glue): version", "1.0", "1.1")
NULL = Null((100, 100), -90.25, -101.5, 50, 1, 61.2, 60.1)
STAGES = (Behind("'eq' (EQ)", 0, True), Behind("'glue' (Glue)", 1, False, 60.0, 65.0),
          Behind("'limiter' (ZaMaximX2)", 2, False, 60.0, 65.0, None, NULL))  # fmt: skip
SAME = Recalled(SHEET, SHEET, Path("run"), Path("run/render.wav"), Path("old.wav"), None, Since(("the mix",), ()), ())
OTHER = replace(SAME, now=replace(SHEET, audio_sha256="d" * 64), null=NULL, since=Since((), (CHANGED,)), stages=STAGES,
                floor=Floor(None))  # fmt: skip


@pytest.fixture
def said(monkeypatch):
    console = Console(width=100, record=True, file=io.StringIO(), color_system=None)
    monkeypatch.setattr(show_recall, "out", lambda: console)

    def told(made: Recalled, before: Since | None = None) -> str:
        show_recall.show_recall(made, before or made.since)
        return console.export_text()

    told.console = console
    return told


def test_what_was_and_has_changed_is_told_before(said):
    found = Found(SHEET, Path("run/recall.json"), Path("x.wav"), "it was printed from variant 004")
    show_recall.show_since(found, Since(("the mix, every sample of it",), (CHANGED,)))
    words = said.console.export_text()
    assert "variant 004 of Lantern, made 2026-11-24 18:05: run/recall.json" in words
    assert "known again: it was printed from variant 004" in words
    assert "as it was: the mix, every sample of it" in words
    assert "'glue' (Glue): version  1.0   1.1" in words


def test_an_identical_one(said):
    words = said(SAME)
    assert "identical: variant 004 of Lantern comes out as it was, sample for sample" in words
    assert "first at" not in words


def test_the_stage_and_the_time_are_named_and_each_stage_listed(said):
    words = said(OTHER)
    assert "leaves a peak of -90.2 dBFS, RMS -101.5 dBFS, first at 1:00.1, largest at 1:01.2 on the right" in words
    assert ("first at 'glue' (Glue): what comes to it is what came to it then; what it gives is not, from somewhere "
            "between") in " ".join(words.split())  # fmt: skip
    assert "rendered twice now it is the same to the last bit" in words
    rows = [line.split("  ") for line in words.splitlines() if line.startswith("'")]
    assert [[cell.strip() for cell in row if cell.strip()] for row in rows] == [
        ["'eq' (EQ)", "as then", "nothing"], ["'glue' (Glue)", "another sound", "its old sound is gone"],
        ["'limiter' (ZaMaximX2)", "another sound", "a peak of -90.2 dBFS"]]  # fmt: skip
    error = show_recall.mismatch(OTHER)
    assert "first at 'glue' (Glue)" in error.what
    assert "see above what has changed since" in error.remedy


def test_a_stage_that_never_repeats_is_named(said):
    words = " ".join(said(replace(OTHER, floor=Floor(-88.0, "'glue' (Glue)"))).split())
    assert words.startswith("as close as it repeats: variant 004 of Lantern")
    assert "two renders of now differ by -88.0 dBFS" in words
    assert "'glue' (Glue) does not repeat itself" in words


def test_a_sheet_without_marks_names_what_has_changed(said):
    unknown = tuple(replace(stage, same=None, null=None) for stage in STAGES)
    words = " ".join(said(replace(OTHER, stages=unknown)).split())
    assert "the stage cannot be told; changed since is 'glue' (Glue)" in words


def test_what_showed_only_while_it_rendered_is_told_after(said):
    late = Difference("'limiter' (ZaMaximX2): delay in frames", "480", "512")
    words = said(replace(OTHER, since=Since((), (CHANGED, late))), Since((), (CHANGED,)))
    assert "delay in frames" in words
    assert "version" not in words


def test_the_list_of_all(capsys):
    console = Console(width=100, record=True, file=io.StringIO(), color_system=None)
    place = Path("results/2026-lantern/variants/004/recall.json")
    lines = (Line(place, "2026-lantern", "Lantern", "004", SAME),
             Line(place, "2026-lantern", "Lantern", "005", OTHER, code=6),
             Line(place, "2026-lantern", "Lantern", "006", None, "no plugin is called 'Gone'", "install it again", 4))
    show_every.show_every(lines, console)
    words = console.export_text()
    cells = {line.split()[1]: line for line in words.splitlines() if line.startswith("2026-lantern")}
    assert "identical" in cells["004"]
    assert "differs, -90.2 dBFS" in cells["005"]
    assert "'glue' (Glue)" in cells["005"]
    assert "not made" in cells["006"]
    assert "006 of 2026-lantern: no plugin is called 'Gone': install it again" in words
    assert "1 of 3 come back; nothing that was rendered is kept" in words
    assert "sweeper recall results/2026-lantern/variants/004" in words


