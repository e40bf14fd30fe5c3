from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

from invented_rows import failed, limits, measured, row
from rich.console import Console

from sweeper.chain.one_condition import read_preference_texts
from sweeper.cli.show_shortlist import show_shortlist
from sweeper.shortlist import shortlist
from sweeper.table.row import OnExcerpts, Row
from sweeper.table.written import WrittenFile, WrittenRun

HELD = limits("crest >= 8 dB")
ROWS = (row("001", measured(crest=9.0), HELD), row("002", measured(crest=11.0), HELD),
        row("003", measured(crest=7.0), HELD), failed("004"))  # fmt: skip


def printed(rows=ROWS, **options) -> str:
    console = Console(width=100, file=io.StringIO(), highlight=False)
    run = WrittenRun(Path("results/tin-boats"), "Tin Boats", "finished", "prefer: [crest highest]\n", len(rows), rows,
                     (WrittenFile("mix.wav", measured(-18), 0.0),), ())  # fmt: skip
    show_shortlist(shortlist(run, **options), console)
    return console.file.getvalue()


def test_it_shows_ranks_margins_and_what_came_of_it():
    text = printed()
    assert "1. 002" in text
    assert "+3.00" in text
    assert "-1.00 !" in text
    assert "003 breaks crest >= 8 dB by 1.00 dB" in text
    assert "004 failed: stage 'glue' crashed" in text
    assert "2 of 4 on target and inside every limit (crest >= 8 dB)" in text
    assert "ranked by crest highest" in text
    assert "\n* " not in text


def test_a_limit_of_some_mixes_says_whose_it_is():
    own = limits("crest >= 8 dB", "plr >= 8 dB")
    rows = (*ROWS, row("005", measured(), own, mix="b.wav"), row("006", measured(), own[1:], mix="c.wav"))
    assert "(crest >= 8 dB for mix.wav and b.wav, plr >= 8 dB for b.wav and c.wav)" in " ".join(printed(rows).split())


def test_what_was_only_tried_on_excerpts_is_no_row_and_does_not_count():
    heard = OnExcerpts(measured(crest=12.0), (), (), 0.5)
    tried = Row("005", "mix.wav", "tried", "", {"glue.Threshold": "-5 dB"}, notes=("tried on excerpts only",),
                kept=False, on_excerpts=heard)  # fmt: skip
    text = printed((*ROWS, tried))
    assert "2 of 4 on target and inside every limit" in text
    assert "005: tried on excerpts only" in text
    assert "005 failed" not in text
    assert "-5 dB" not in text
    assert "* 005" not in printed((*ROWS, tried), keep=3)


def test_the_picked_ones_are_listed_with_their_sound():
    text = printed(keep=1)
    assert "1. 002 *" in text
    assert f"* 002  {Path('results/tin-boats/variants/002/matched.wav')}" in text
    assert "* 001" not in text


def test_the_trade_off_front_is_marked_and_why_each_was_picked_is_told():
    rows = (row("001", measured(crest=9.0, loudness_range_lu=4.0), HELD), row("002", measured(crest=11.0), HELD),
            row("003", measured(crest=8.5, loudness_range_lu=6.0), HELD))  # fmt: skip
    text = printed(rows, keep=2, prefer=read_preference_texts(["crest highest", "loudness range lowest"], "--prefer"))
    assert "1. 002^ *" in text
    assert "2. 001^ *" in text
    assert "3. 003 " in text
    assert "^ on the trade-off front: nothing else is at least as good" in text
    assert "002 picked: the highest crest of all" in text
    assert "001 picked: the lowest loudness range of all" in text


def test_a_picked_one_without_sound_says_how_to_get_it():
    silent = tuple(replace(one, files={}) for one in ROWS)
    assert "* 002  its sound was not kept: its recall sheet makes it again" in printed(silent, keep=1)
