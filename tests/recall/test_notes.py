"""What was noted in the audition is read as its contract has it, and what is no notes is none."""

from __future__ import annotations

import json

import pytest

from sweeper.recall.notes import Note, Pick, pick_of, picked

NOTES = {"schema": 1, "run": "x", "picks": {
    "004": {"verdict": "keep", "notes": [{"at_s": 12.3, "text": "vocal sits"}, {"at_s": None, "text": "warm"}]},
    "005": {"verdict": "drop", "notes": []}},
    "trials": [{"a": "004", "b": "007", "right": 9, "of": 12, "p": 0.073}], "revision": 3}  # fmt: skip


@pytest.fixture
def run(tmp_path):
    (tmp_path / "audition").mkdir()
    (tmp_path / "audition" / "notes.json").write_text(json.dumps(NOTES))
    return tmp_path


def test_verdict_notes_and_trials(run):
    assert pick_of(run, "004") == Pick("keep", (Note(12.3, "vocal sits"), Note(None, "warm")),
                                       ("004 against 007: told apart 9 times of 12",))  # fmt: skip
    assert pick_of(run, "007") == Pick("", (), ("004 against 007: told apart 9 times of 12",))
    assert pick_of(run, "001") is None


def test_only_what_is_to_be_kept_is_picked(run):
    assert picked(run / "variants" / "004" / "recall.json")
    assert not picked(run / "variants" / "005" / "recall.json")


@pytest.mark.parametrize("text", [None, "{", "[]", '{"picks": []}', '{"picks": {"004": "keep"}}'])
def test_what_is_no_notes_is_none(tmp_path, text):
    (tmp_path / "audition").mkdir()
    if text is not None:
        (tmp_path / "audition" / "notes.json").write_text(text)
    assert pick_of(tmp_path, "004") is None
