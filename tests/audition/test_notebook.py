from __future__ import annotations

import json
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from sweeper.audition.notebook import BEFORE, NAME, Foreign, Notebook, Outdated, same_run
from sweeper.errors import RunFolderError
from sweeper.records.picks import Picks

RUN = "tin-boats#0123456789ab"


def document(revision: int, verdict: str = "keep") -> dict[str, object]:
    return {"schema": 1, "run": RUN, "picks": {"002": {"verdict": verdict, "notes": []}}, "revision": revision}


def test_every_save_keeps_the_one_before_and_how_it_stood_when_somebody_began(tmp_path):
    first = Notebook(tmp_path, RUN)
    assert first.save(document(0, "keep")) == 1
    assert first.save(document(1, "maybe")) == 2
    again = Notebook(tmp_path, RUN)
    assert again.save(document(2, "drop")) == 3
    assert again.save(document(3, "")) == 4

    def verdict(name: str) -> str:
        return Picks.from_data(json.loads((tmp_path / name).read_text())).picks["002"].verdict

    assert verdict(NAME) == ""
    assert verdict(BEFORE) == "drop"
    assert verdict("notes-r2.json") == "maybe", "as it was when the second began"
    assert sorted(path.name for path in tmp_path.glob("notes*")) == sorted([NAME, BEFORE, "notes-r1.json",
                                                                            "notes-r2.json"])  # fmt: skip


def test_of_many_that_save_at_once_one_wins_each_revision(tmp_path):
    outcomes: list[int] = []

    def save() -> None:
        try:
            outcomes.append(Notebook(tmp_path, RUN).save(document(0)))
        except Outdated:
            outcomes.append(0)

    threads = [threading.Thread(target=save) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(outcomes) == [0] * 7 + [1]


def test_notes_follow_a_run_whose_folder_was_renamed_and_no_other(tmp_path):
    assert same_run("tin-boats#0123456789ab", "tin-boats-approved#0123456789ab")
    assert Notebook(tmp_path, "renamed#0123456789ab").save(document(0)) == 1
    with pytest.raises(Foreign, match="of the run"):
        Notebook(tmp_path, "tin-boats#ffffffffffff").save(document(1))


def test_damaged_notes_are_told_with_where_the_others_are_and_stay(tmp_path):
    (tmp_path / NAME).write_text('{"schema": 1')
    for ask in (Notebook(tmp_path, RUN).read, lambda: Notebook(tmp_path, RUN).save(document(0))):
        with pytest.raises(RunFolderError, match=r"notes\.json cannot be read") as caught:
            ask()
        assert BEFORE in caught.value.remedy
    assert (tmp_path / NAME).read_text() == '{"schema": 1'


def killed_while_saving(folder: Path, saves: int) -> None:
    """Kill a program that saves and saves after some of them; what is there afterwards is whole."""
    program = [sys.executable, str(Path(__file__).with_name("notebook_program.py")), str(folder)]
    with subprocess.Popen(program, stdout=subprocess.PIPE, text=True) as running:
        assert running.stdout is not None
        told = [int(running.stdout.readline()) for _ in range(saves)]
        running.kill()
    found = Notebook(folder, RUN).read()
    assert found["revision"] >= told[-1], "what was said to be saved is there"
    assert {len(one["notes"]) for one in found["picks"].values()} == {1}
    assert len(found["picks"]) == 30


def test_a_server_that_is_killed_while_it_saves_leaves_whole_notes(tmp_path):
    killed_while_saving(tmp_path, 3)


@pytest.mark.long
def test_thirty_kills_leave_whole_notes(tmp_path):
    for number in range(30):
        killed_while_saving(tmp_path, 1 + number % 4)


def test_notes_of_another_run_are_told_and_stay(tmp_path):
    Notebook(tmp_path, RUN).save(document(0))
    before = (tmp_path / NAME).read_bytes()
    with pytest.raises(RunFolderError, match="is of another run: tin-boats"):
        Notebook(tmp_path, "other#ba9876543210").read()
    assert (tmp_path / NAME).read_bytes() == before
