"""Rows of alternates: kept as their main is, and how far they came out from it."""

from __future__ import annotations

from dataclasses import replace

from invented_rows import failed, measured, row

from sweeper.table.alternates import levels_told, with_alternates

MAINS = {"003": "001", "004": "002"}
ROWS = [row("002", measured(-10.0, -1.0)), row("001", measured(-10.0, -1.0)),
        replace(row("004", measured(-12.5, -1.3)), mix="instrumental.wav"),
        replace(row("003", measured(-10.0, -0.8)), mix="instrumental.wav")]  # fmt: skip


def test_an_alternate_is_kept_where_its_main_is():
    marked = [replace(ROWS[0], kept=True, why="the highest crest of all"), replace(ROWS[1], kept=False)]
    found = with_alternates(ROWS, marked, MAINS)
    assert [(one.id, one.kept, one.why) for one in found] == [
        ("002", True, "the highest crest of all"), ("001", False, ""), ("004", True, "as its main 002"),
        ("003", False, "")]  # fmt: skip


def test_how_loud_it_came_out_is_told_beside_its_main():
    assert levels_told(ROWS, MAINS) == (
        "003 is instrumental.wav with the settings of 001: as loud, true peak -0.80 dBTP",
        "004 is instrumental.wav with the settings of 002: 2.50 LU quieter, true peak -1.30 dBTP",
    )
    assert levels_told([failed("001"), *ROWS[2:]], MAINS) == ()
