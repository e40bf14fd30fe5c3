from __future__ import annotations

import json

import heard_runs
import pytest

from sweeper.audition.heard import identity
from sweeper.audition.taken_in import take_in
from sweeper.errors import SheetError
from sweeper.table.picks import picks_of
from sweeper.table.written import read_ledger


@pytest.fixture
def own(run, tmp_path):
    return heard_runs.copied(run, tmp_path)


def written(folder, name="a.picks.json", **more):
    path, ledger = read_ledger(folder)
    data = {"schema": 1, "run": identity(ledger, path), "revision": 4, "picks": {
        "002": {"verdict": "keep", "notes": [{"at_s": 1.0, "text": "snare"}]}}, "trials": [
        {"a": "002", "b": "001", "right": 9, "of": 12, "when": "monday"}], **more}  # fmt: skip
    (folder.parent / name).write_text(json.dumps(data))
    return folder.parent / name


def test_picks_that_came_back_become_the_runs_own(own):
    before = (own / "table.csv").read_bytes(), (own / "run.json").read_bytes()
    found = take_in(own, written(own))
    assert (found.decided, dict(found.changed), found.notes, found.trials) == (("002",), {}, 1, 1)
    picks = picks_of(own)
    assert picks.picks["002"].verdict == "keep"
    assert picks.trials[0].right == 9
    assert ((own / "table.csv").read_bytes(), (own / "run.json").read_bytes()) == before, "what a run wrote stays"


def test_taken_in_twice_nothing_is_twice(own):
    file = written(own)
    take_in(own, file)
    found = take_in(own, file)
    assert (found.decided, dict(found.changed), found.notes, found.trials) == ((), {}, 0, 0)
    assert picks_of(own).revision == 1, "nothing was saved where nothing is new"


def test_what_stands_there_is_added_to_and_kept_beside(own):
    take_in(own, written(own))
    more = {"002": {"verdict": "drop", "notes": [{"at_s": 1.0, "text": "snare"}, {"at_s": None, "text": "no"}]},
            "003": {"verdict": "maybe", "notes": []},
            "mix-1": {"verdict": "keep", "notes": [{"at_s": 0, "text": "hum"}]}}
    found = take_in(own, written(own, "b.picks.json", picks=more, trials=[], ranking={"1": {"order": ["003"]}}))
    assert (found.decided, dict(found.changed), found.notes, found.trials) == (("003",), {"002": "keep"}, 2, 0)
    assert found.rated == ("mix-1",), "and no pick"
    assert found.ranked == ("1",)
    picks = picks_of(own)
    assert [note.text for note in picks.picks["002"].notes] == ["snare", "no"]
    assert len(picks.trials) == 1
    assert picks.ranking["1"].order == ("003",)
    assert json.loads((own / "audition/notes.before.json").read_text())["picks"]["002"]["verdict"] == "keep"


def test_a_pick_without_a_verdict_takes_none_away(own):
    take_in(own, written(own))
    take_in(own, written(own, "b.picks.json", picks={"002": {"verdict": "", "notes": []}}))
    assert picks_of(own).picks["002"].verdict == "keep"


@pytest.mark.parametrize(("more", "what"), [
    ({"run": "another#aaaaaaaaaaaa"}, "of another run"), ({"schema": 9}, "schema 9"),
    ({"picks": {"777": {"verdict": "keep"}}}, "picks of 777"),
])  # fmt: skip
def test_what_is_not_this_runs_is_refused_and_nothing_is_written(own, more, what):
    with pytest.raises(SheetError, match=what):
        take_in(own, written(own, **more))
    assert picks_of(own) is None


def test_what_is_no_file_of_picks_is_refused(own, tmp_path):
    (tmp_path / "x.json").write_text("[" * 100_000)
    for name in ("x.json", "nothing.json"):
        with pytest.raises(SheetError, match=name):
            take_in(own, tmp_path / name)
