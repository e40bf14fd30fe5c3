from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_rows import peak_solved

from sweeper.plan.reach import Ending
from sweeper.quantities import QUANTITIES, Measurements
from sweeper.render.job import Solved
from sweeper.table.data import csv_text, row_data, row_from
from sweeper.table.row import Row, solved_text
from sweeper.verdict import Verdict

SOLVED = Solved("loudness_lufs", -10.0, -10.04, Ending.ON_TARGET, "limiter.Threshold", -7.2512, "dB", 3, "", 0.91)
DONE = Row(
    "001", "mix.wav", "done", "", {"a.Gain": "1 dB", "limiter.Threshold": "-7.25 dB"},
    Measurements({"loudness_lufs": -10.04, "crest_db": None}, {"crest_db": "silence"},
                 {"verse, one": Measurements({"loudness_lufs": -12.0})}),
    (Verdict("crest >= 8 dB", "crest_db", None, None, "silence"),), (SOLVED,), -6.5, 1, ("a note",), 3, 1.5,
    {"render": "variants/001/render.wav"},
)  # fmt: skip
FAILED = Row("002", "mix.wav", "failed", 'crashed, "badly"\nat once', {"a.Gain": "2 dB"})


def cells(rows):
    return list(csv.DictReader(io.StringIO(csv_text(rows))))


def test_failed_variants_are_rows_with_their_cause():
    first, second = cells([FAILED, DONE])
    assert (first["variant"], first["status"], first["cause"]) == ("002", "failed", 'crashed, "badly"\nat once')
    assert first["loudness_lufs"] == ""
    assert second["loudness_lufs"] == "-10.04"


def test_values_that_do_not_exist_are_empty_and_limits_are_words():
    (row,) = cells([DONE])
    assert row["crest_db"] == ""
    assert row["limit crest >= 8 dB"] == "not judged"
    assert row["margin crest >= 8 dB"] == ""
    assert row["loudness_lufs [verse, one]"] == "-12"
    assert (row["reach"], row["passes"], row["rank"], row["match_gain_db"]) == ("on target", "3", "1", "-6.5")
    assert (row["reach stopped by"], row["cause"]) == ("", "")


def test_two_reaches_have_a_pair_of_columns_each():
    both = replace(DONE, solved=(SOLVED, peak_solved(-1.4, Ending.NOT_ENGAGED)))
    first, second = cells([both, FAILED])
    assert (first["reach loudness"], first["reach true peak"]) == ("on target", "met, not engaged")
    assert {"reach loudness stopped by", "reach true peak stopped by", "passes"} <= set(first)
    assert "reach" not in first
    assert (second["reach loudness"], second["passes"]) == ("", "")


def test_the_same_rows_give_the_same_bytes_and_columns_stand_in_a_fixed_order():
    assert csv_text([FAILED, DONE]) == csv_text([FAILED, DONE])
    assert csv_text([FAILED, DONE]).splitlines()[0] == csv_text([DONE, FAILED]).splitlines()[0]


def test_a_row_for_json_has_nulls_and_reasons():
    data = json.loads(json.dumps(row_data(DONE), allow_nan=False))
    assert data["measurements"]["crest_db"] is None
    assert data["measurements"]["reasons"] == {"crest_db": "silence"}
    assert [(one["ending"], one["at"]) for one in data["reach"]] == [("on target", -7.2512)]
    assert (data["passes"], data["kept"]) == (3, True)
    assert row_data(FAILED)["measurements"] is None
    assert row_data(FAILED)["reach"] == []


@pytest.mark.parametrize("row", [
    DONE, FAILED, replace(DONE, kept=False, solved=(SOLVED, peak_solved()), front=2, why="near-duplicate of 004")])
def test_a_row_comes_back_from_its_data(row):
    back = row_from(json.loads(json.dumps(row_data(row))))
    assert back == replace(row, plugin_s=0.0)


numbers = st.floats(-1e6, 1e6)


@given(
    st.dictionaries(st.sampled_from([q.key for q in QUANTITIES]), numbers | st.none()),
    st.dictionaries(st.text(min_size=1), st.text()), st.lists(st.text()), st.booleans(), numbers | st.none(),
    st.lists(st.builds(Solved, st.just("crest_db"), numbers, numbers | st.none(), st.sampled_from(Ending), st.text(),
                       numbers, st.text(), st.integers(1, 17), st.text(), numbers | st.none()), max_size=2),
)  # fmt: skip
def test_any_row_comes_back_from_its_data(values, settings, notes, kept, gain, solved):
    row = Row("007", "a mix.wav", "done", "", settings, Measurements(values), (), tuple(solved), gain, None,
              tuple(notes), 2, 0.0, {}, kept)  # fmt: skip
    assert row_from(json.loads(json.dumps(row_data(row), allow_nan=False))) == row


def test_a_variant_fits_when_it_is_done_on_target_and_breaks_nothing():
    assert not DONE.fits, "a limit that could not be judged is not met"
    fits = replace(DONE, verdicts=())
    assert fits.fits
    assert replace(DONE, verdicts=(Verdict("mono loss <= 1 LU", "mono_loss_lu", None, None, "one channel"),)).fits
    assert not FAILED.fits
    assert not replace(fits, solved=(replace(SOLVED, ending=Ending.OUT_OF_REACH),)).fits
    assert replace(fits, solved=(replace(SOLVED, ending=Ending.STOPPED),)).fits
    assert replace(fits, solved=(SOLVED, peak_solved(-1.4, Ending.NOT_ENGAGED))).fits
    assert not replace(fits, solved=(SOLVED, peak_solved(-0.4, Ending.OUT_OF_REACH))).fits, "every reach counts"
    assert not replace(fits, verdicts=(Verdict("x", "crest_db", False, -1.0),)).fits


@pytest.mark.parametrize(
    ("at", "unit", "text"),
    [(-7.254321, "dB", "-7.25 dB"), (1e-06, "dB", "0 dB"), (-1e-06, "LU", "0 LU"), (12.0, "%", "12 %"),
     (37.4567, "% travel", "37.46 % travel"), (0.46371, "", "0.4637"), (0.0125, "s", "0.0125 s"),
     (100.0, "ms", "100 ms"), (1234567.0, "Hz", "1234567 Hz")],
)  # fmt: skip
def test_a_solved_setting_is_shown_in_so_many_decimals_as_mean_something(at, unit, text):
    assert solved_text(replace(SOLVED, at=at, unit=unit)) == text
