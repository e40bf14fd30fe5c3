"""Which rows of a run are marked as kept, once it is chosen."""

from __future__ import annotations

from dataclasses import replace

from invented_rows import failed, limits, measured, row

from sweeper.shortlist.choice import Choice
from sweeper.shortlist.keeping import marked

HELD = limits("crest >= 8 dB")


def test_what_was_picked_is_kept_of_each_mix_and_the_others_not():
    rows = [replace(failed("001"), mix="a.wav"), row("002", measured(), mix="a.wav"),
            row("003", measured(), mix="a.wav"), row("004", measured(), mix="b.wav")]  # fmt: skip
    found = marked(rows, Choice(1, ("003", "004"), {"003": "the highest crest of all", "002": "near-duplicate"}))
    assert [one.kept for one in found] == [False, False, True, True]
    assert [one.why for one in found] == ["", "near-duplicate", "the highest crest of all", ""]


def test_where_too_few_fit_the_best_of_the_others_make_up_for_it_and_failed_ones_never():
    rows = [row("001", measured(crest=9.0), HELD), row("002", measured(crest=7.0), HELD),
            row("003", measured(crest=6.0), HELD), failed("004")]  # fmt: skip
    found = marked(rows, Choice(2, ("001",), {"001": "the highest crest of all"}))
    assert [one.kept for one in found] == [True, True, False, False]
    assert found[1].why == "does not fit: to make up 2"
    assert [one.kept for one in marked(rows, Choice(4, ("001",)))] == [True, True, True, False]


def test_without_a_number_all_are_kept():
    rows = [row("001", measured()), row("002", measured())]
    assert marked(rows, Choice()) == rows
