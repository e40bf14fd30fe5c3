from __future__ import annotations

import csv
import io
import json

from sweeper.plan.reach import Ending
from sweeper.quantities import Measurements
from sweeper.render.job import Solved
from sweeper.table.data import csv_text, row_data
from sweeper.table.row import Row
from sweeper.verdict import Verdict

SOLVED = Solved("loudness_lufs", -10.0, -10.04, Ending.ON_TARGET, "limiter.Threshold", -7.25, "dB", 3, "")
DONE = Row(
    "001", "mix.wav", "done", "", {"a.Gain": "1 dB", "limiter.Threshold": "-7.25 dB"},
    Measurements({"loudness_lufs": -10.04, "crest_db": None}, {"crest_db": "silence"},
                 {"verse, one": Measurements({"loudness_lufs": -12.0})}),
    (Verdict("crest >= 8 dB", "crest_db", None, None, "silence"),), SOLVED, -6.5, 1, ("a note",), 3, 1.5,
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
    assert row["loudness_lufs [verse, one]"] == "-12"
    assert (row["reach"], row["passes"], row["rank"], row["match_gain_db"]) == ("on target", "3", "1", "-6.5")


def test_the_same_rows_give_the_same_bytes_and_columns_stand_in_a_fixed_order():
    assert csv_text([FAILED, DONE]) == csv_text([FAILED, DONE])
    assert csv_text([FAILED, DONE]).splitlines()[0] == csv_text([DONE, FAILED]).splitlines()[0]


def test_a_row_for_json_has_nulls_and_reasons():
    data = json.loads(json.dumps(row_data(DONE), allow_nan=False))
    assert data["measurements"]["crest_db"] is None
    assert data["measurements"]["reasons"] == {"crest_db": "silence"}
    assert data["reach"]["ending"] == "on target"
    assert row_data(FAILED)["measurements"] is None


def test_a_variant_fits_when_it_is_done_on_target_and_breaks_nothing():
    from dataclasses import replace

    assert not DONE.fits, "a limit that could not be judged is not met"
    assert replace(DONE, verdicts=()).fits
    assert replace(DONE, verdicts=(Verdict("mono loss <= 1 LU", "mono_loss_lu", None, None, "one channel"),)).fits
    assert not FAILED.fits
    assert not replace(DONE, solved=replace(SOLVED, ending=Ending.OUT_OF_REACH)).fits
    assert replace(DONE, verdicts=(), solved=replace(SOLVED, ending=Ending.STOPPED)).fits
    assert not replace(DONE, verdicts=(Verdict("x", "crest_db", False, -1.0),)).fits
