from __future__ import annotations

from dataclasses import replace

import pytest
from invented_rows import failed, limits, loudness_solved, measured, peak_solved, row

from sweeper.chain.one_condition import read_preference_texts
from sweeper.cli.remarks import ending_words, order_remark, row_remarks
from sweeper.plan.reach import Ending


@pytest.mark.parametrize(
    ("solved", "words"),
    [
        (loudness_solved(-9.306, Ending.OUT_OF_REACH, "driven harder it comes out lower again", at=-7.123456),
         "loudness is out of reach: closest -9.31 LUFS at limiter.drive -7.12 dB; "
         "what stopped it: driven harder it comes out lower again"),
        (loudness_solved(-11, Ending.STOPPED, "crest >= 8 dB", at=1e-06),
         "loudness stopped as asked at limiter.drive 0 dB: crest >= 8 dB"),
        (loudness_solved(-9.306, Ending.FARTHEST, "the end of its way, -30", at=-30),
         "loudness went as far as it goes: -9.31 LUFS at limiter.drive -30 dB; "
         "what stopped it: the end of its way, -30 dB"),
        (peak_solved(-0.8, Ending.AS_MAIN),
         "true peak -0.80 dBTP with the main mix's limiter.ceiling -1.25 dB: 0.20 dB too high"),
        (peak_solved(-1.43, Ending.NOT_ENGAGED),
         "true peak is met, not engaged: -1.43 dBTP at limiter.ceiling -1.25 dB"),
        (replace(loudness_solved(0.0, Ending.OUT_OF_REACH, "silence"), value=None),
         "loudness is out of reach: closest at limiter.drive 3 dB; what stopped it: silence"),
    ],
)  # fmt: skip
def test_how_a_reach_ended_is_said_with_its_measurement_and_its_place(solved, words):
    assert ending_words(solved) == words


@pytest.mark.parametrize(
    ("limit", "crest", "words"),
    [("crest >= 8 dB", 7.6, "001 breaks crest >= 8 dB by 0.40 dB"), ("crest >= 8 dB", 8.0, None),
     ("crest >= 8 dB", 7.999, "001 breaks crest >= 8 dB by less than 0.01 dB"),
     ("loudness <= -12 LUFS", 9.0, "001 breaks loudness <= -12 LUFS by 2.00 LU"),
     ("correlation >= 0.5", 9.0, "001 breaks correlation >= 0.5 by 0.25")],
)  # fmt: skip
def test_a_broken_limit_is_told_with_its_unit(limit, crest, words):
    found = row_remarks([row("001", measured(crest=crest, correlation=0.25), limits(limit))])
    assert found == ([] if words is None else [words])


def test_failures_endings_limits_and_notes_of_a_row():
    missed = row("002", measured(-9, crest=3), limits("crest >= 8 dB"),
                 [loudness_solved(-9, Ending.OUT_OF_REACH, "its end"), peak_solved()])  # fmt: skip
    first, ending, broken = row_remarks([failed("001"), missed])
    assert "001 failed:" in first
    assert "crashed at 0:12.0" in first
    assert ending.startswith("002: loudness is out of reach")
    assert broken == "002 breaks crest >= 8 dB by 5.00 dB"


def test_a_note_of_many_is_told_once():
    noted = [row(f"{n:03d}", measured(), notes=("[glue] moved",)) for n in range(1, 9)]
    assert row_remarks(noted) == [r"001, 002, 003, 004, 005 and 3 others: \[glue] moved"]
    assert row_remarks(noted[:2]) == [r"001, 002: \[glue] moved"]


def test_the_order_is_said():
    wishes = read_preference_texts(["crest highest", "mono loss lowest"], "prefer")
    assert order_remark(wishes, 3) == [
        "ranked by the trade-off fronts of crest highest, mono loss lowest, those inside every limit first"]
    assert order_remark((), 3) == ["not ranked: use your ears"]
    assert order_remark((), 1) == []
