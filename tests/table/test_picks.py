from __future__ import annotations

import json

import pytest
from invented_rows import measured, row

import sweeper
from sweeper.errors import RunFolderError
from sweeper.records.picks import Note
from sweeper.table.data import csv_text
from sweeper.table.frame import frame
from sweeper.table.picks import notes_words, picks_of

ROWS = [row("001", measured(), notes=("of the run",)), row("002", measured(), settings={"pick": "hard"})]


@pytest.fixture
def run(tmp_path):
    data = {"schema": 1, "title": "Tin Boats", "state": "finished", "chain": "", "answer": {}}
    (tmp_path / "run.json").write_text(json.dumps(data))
    (tmp_path / "table.csv").write_text(csv_text(ROWS))
    return tmp_path


def listened(run, **picks):
    (run / "audition").mkdir()
    (run / "audition/notes.json").write_text(json.dumps({"schema": 1, "run": "x", "picks": picks}))


def test_picks_and_notes_stand_beside_the_table_and_the_file_stays_as_it_is(run):
    before = (run / "table.csv").read_bytes()
    noted = [{"at_s": 62.5, "text": "snare"}]
    listened(run, **{"001": {"verdict": "keep", "notes": noted}, "777": {"verdict": "drop"}})
    table = sweeper.load_run(run)
    assert list(table["pick"].fillna("")) == ["keep", ""]
    assert list(table["listening notes"].fillna("")) == ["1:02.5 snare", ""]
    assert list(table["notes"].fillna("")) == ["of the run", ""], "what the run itself notes is another column"
    assert list(table["pick (setting)"].fillna("")) == ["", "hard"], "a setting that is called so keeps its column"
    assert (run / "table.csv").read_bytes() == before


def test_without_notes_the_table_is_what_it_was(run):
    assert list(sweeper.load_run(run).columns) == list(frame(ROWS).columns)
    assert picks_of(run) is None


def test_notes_that_cannot_be_understood_are_told(run):
    listened(run)
    (run / "audition/notes.json").write_text("{")
    with pytest.raises(RunFolderError, match=r"notes\.json cannot be understood"):
        sweeper.load_run(run)


def test_notes_in_words():
    assert notes_words([Note(3.0, "pumps"), Note(None, "dull")]) == "0:03.0 pumps; dull"
