"""A run read back from its folder, finished or interrupted."""

from __future__ import annotations

import json

import pytest
from invented_rows import failed, limits, loudness_solved, measured, row

from sweeper.errors import RunFolderError
from sweeper.table.data import row_data
from sweeper.table.frame import frame
from sweeper.table.written import read_run

ROWS = [row("002", measured(), limits("crest >= 8 dB"), [loudness_solved()], rank=1), row("001", measured()),
        failed("003")]  # fmt: skip
ASKED = {"schema": 1, "title": "Tin Boats", "chain": "prefer: [crest highest]\n",
         "variants": [{"id": id} for id in ("001", "002", "003", "004")]}  # fmt: skip


def written(folder, **more):
    (folder / "run.json").write_text(json.dumps({**ASKED, **more}), encoding="utf-8")
    return folder


def test_a_finished_run_comes_back_in_the_files_order(tmp_path):
    files = [{"file": "mix.wav", "measurements": measured(-18).as_data(), "match_gain_db": -1.5}]
    references = [{"file": "record.wav", "measurements": measured(-9).as_data()}]
    answer = {"variants": [row_data(one) for one in ROWS], "mixes": files, "references": references}
    run = read_run(written(tmp_path, state="finished", answer=answer))
    assert run.rows == (ROWS[1], ROWS[0], ROWS[2])
    assert (run.title, run.state, run.asked) == ("Tin Boats", "finished", 4)
    assert run.chain_text == "prefer: [crest highest]\n"
    assert [(one.file, one.match_gain_db) for one in run.mixes + run.references] == [
        ("mix.wav", -1.5), ("record.wav", None)]  # fmt: skip
    assert run.mixes[0].measurements == measured(-18)


def test_an_interrupted_run_has_the_rows_that_were_in(tmp_path):
    run = read_run(written(tmp_path, state="interrupted", rows=[row_data(one) for one in ROWS[:2]]))
    assert [one.id for one in run.rows] == ["001", "002"]
    assert run.mixes == ()


def test_a_run_from_before_a_measurement_is_read_and_has_none_of_it(tmp_path):
    # An earlier version wrote loudness, true peak, crest, range and PLR, and no PSR; a table of both holds both
    files = [{"file": "mix.wav", "measurements": measured(-18).as_data(), "match_gain_db": -1.5}]
    answer = {"variants": [row_data(ROWS[1])], "mixes": files}
    run = read_run(written(tmp_path, state="finished", answer=answer))
    assert run.mixes[0].measurements["psr_db"] is None
    assert run.mixes[0].measurements["loudness_lufs"] == -18
    both = frame([*run.rows, row("009", measured(psr_db=7.5))])
    assert both["psr_db"].isna().tolist() == [True, False]
    assert both["crest_db"].tolist() == [9.0, 9.0]


@pytest.mark.parametrize(
    ("more", "what"),
    [({"state": "running"}, "has no table yet"), ({"state": "interrupted", "rows": []}, "has no table yet"),
     ({"state": "interrupted", "rows": [{"id": "001"}]}, "cannot be understood (KeyError: 'mix')"),
     ({"state": "interrupted", "rows": "none"}, "cannot be understood"),
     ({"state": "finished", "answer": {"variants": [3]}}, "cannot be understood"),
     ({"rows": [row_data(ROWS[0])]}, "cannot be understood (KeyError: 'state')")],
)  # fmt: skip
def test_what_cannot_be_read_is_said(tmp_path, more, what):
    with pytest.raises(RunFolderError) as error:
        read_run(written(tmp_path, **more))
    assert what in error.value.what
    assert error.value.remedy
