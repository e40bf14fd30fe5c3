"""The table as a frame: real numbers, text that stays text, columns that do not depend on the rows' order."""

from __future__ import annotations

import itertools

import pandas as pd
import pytest
from invented_rows import failed, limits, loudness_solved, measured, row

from sweeper.quantities import Measurements
from sweeper.table.frame import frame, merged
from sweeper.verdict import Verdict

HELD = limits("crest >= 8 dB")


def test_numbers_are_numbers_and_all_else_is_text():
    table = frame([row("001", measured(crest=9.25), HELD, [loudness_solved()], rank=1), failed("002")])
    for name in ("loudness_lufs", "crest_db", "margin crest >= 8 dB", "rank", "passes", "match_gain_db"):
        assert table[name].dtype == "float64", name
    for name in ("mix", "status", "cause", "glue.Threshold", "reach", "limit crest >= 8 dB", "notes"):
        assert not pd.api.types.is_numeric_dtype(table[name]), name
    assert list(table.index) == ["001", "002"]
    assert table.loc["001", "margin crest >= 8 dB"] == 1.25
    assert pd.isna(table.loc["002", "crest_db"])


def test_measurements_have_four_decimals_and_no_negative_zero():
    table = frame([row("001", measured(-10.123456789, crest=-0.00001))])
    assert table.loc["001", "loudness_lufs"] == -10.1235
    assert str(table.loc["001", "crest_db"]) == "0.0"


def test_columns_are_the_same_whatever_order_the_rows_have():
    rows = [
        row("001", measured(), settings={"colour": "Valve", "colour.Bias": "3", "limiter.drive": "1 dB"}),
        row("002", measured(), settings={"colour": "Iron", "colour.Amount": "4", "limiter.drive": "1 dB"}),
        row("003", Measurements({**measured().values}, {}, {"verse": measured(), "chorus": measured()}), HELD,
            settings={"sequence": "none", "limiter.drive": "1 dB"}),
        failed("004"),
    ]  # fmt: skip
    wanted = list(frame(rows).columns)
    for order in itertools.permutations(rows):
        assert list(frame(order).columns) == wanted
    assert wanted.index("colour") < wanted.index("colour.Bias") < wanted.index("limiter.drive")
    assert wanted.index("colour.Amount") < wanted.index("limiter.drive")
    assert wanted.index("crest_db") < wanted.index("limit crest >= 8 dB") < wanted.index("crest_db [verse]")


@pytest.mark.parametrize("name", ["rank", "mix", "status", "loudness_lufs", "reach"])
def test_a_stage_that_is_called_like_a_column_hides_nothing(name):
    table = frame([row("001", measured(-10), settings={name: "Valve Colour"}, rank=2)])
    assert table.loc["001", f"{name} (setting)"] == "Valve Colour"
    assert table.loc["001", "rank"] == 2
    assert table.loc["001", "mix"] == "mix.wav"
    assert table.loc["001", "loudness_lufs"] == -10


def test_a_setting_that_starts_like_a_margin_stays_text():
    table = frame([row("001", measured(), settings={"margin x.y": "3"})])
    assert table.loc["001", "margin x.y"] == "3"


def test_whose_sound_was_kept_is_told_where_it_was_not_all():
    from dataclasses import replace

    lost = replace(failed("003"), kept=False)
    assert "kept" not in frame([row("001", measured()), lost])
    kept = frame([row("001", measured()), row("002", measured(), kept=False), lost])["kept"]
    assert list(kept)[:2] == ["yes", "no"]
    assert pd.isna(kept["003"])


def test_fronts_and_why_it_was_kept_are_told_where_there_are_such():
    told = frame([row("001", measured(), front=2, why="near-duplicate of 002"), row("002", measured())])
    assert (told.loc["001", "front"], told.loc["001", "why kept"]) == (2.0, "near-duplicate of 002")
    assert pd.isna(told.loc["002", "front"])
    assert not {"front", "why kept"} & set(frame([row("001", measured())]).columns)
    named = frame([row("001", measured(), settings={"front": "Valve Colour"}, front=1)])
    assert (named.loc["001", "front"], named.loc["001", "front (setting)"]) == (1.0, "Valve Colour")


def test_a_limit_that_is_not_judged_has_no_margin():
    verdict = Verdict("mono loss <= 1 LU", "mono_loss_lu", None, None, "one channel")
    table = frame([row("001", measured(), verdicts=(verdict,))])
    assert table.loc["001", "limit mono loss <= 1 LU"] == "not judged"
    assert pd.isna(table.loc["001", "margin mono loss <= 1 LU"])


def test_merging_keeps_the_order_of_each_list():
    assert merged([["a", "b", "d"], ["a", "c", "d", "e"], ["z", "a"]]) == ["z", "a", "c", "b", "d", "e"]
    assert merged([["a"], ["z"]]) == ["a", "z"]
    assert merged([]) == []


def test_no_rows_are_an_empty_table():
    assert len(frame([])) == 0
