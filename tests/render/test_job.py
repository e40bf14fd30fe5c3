"""What a reach came to survives a file; a mix that changes is noticed by its stamp."""

from __future__ import annotations

import hashlib
import json
import os

import pytest
from whole_runs import mix

from sweeper.audio import inspect
from sweeper.plan.reach import Ending
from sweeper.render.job import KnownFile, Solved, changed, stamp_of

STOPPED = Solved("crest_db", 8.0, 8.31, Ending.STOPPED, "limiter.mid.Drive", -7.25, "dB", 5, "overs <= 2", -0.4)
SILENT = Solved("loudness_lufs", -10.0, None, Ending.OUT_OF_REACH, "a.b", 3.0, "", 16, "the end at 3")
MET = Solved("true_peak_dbtp", -1.0, -1.02, Ending.ON_TARGET, "limiter.Ceiling", -1.2, "dB", 2, "", 1.0)
IDLE = Solved("true_peak_dbtp", -1.0, -3.0, Ending.NOT_ENGAGED, "limiter.Ceiling", -1.0, "dB", 2, "")


@pytest.mark.parametrize("solved", [STOPPED, SILENT, MET, IDLE], ids=lambda solved: solved.ending.name)
def test_what_was_solved_comes_back_from_json_as_it_was(solved):
    assert Solved.from_data(json.loads(json.dumps(solved.as_data(), allow_nan=False))) == solved


def test_the_table_has_words_that_people_read_and_null_for_what_there_is_not():
    assert STOPPED.as_data()["ending"] == "stopped as asked"
    assert STOPPED.as_data()["why"] == "overs <= 2"
    assert MET.as_data()["why"] is None
    assert SILENT.as_data()["value"] is None
    assert SILENT.as_data()["slope"] is None


def test_a_sheet_from_before_slopes_were_noted_is_read_without_one():
    data = MET.as_data()
    del data["slope"]
    assert Solved.from_data(data).slope is None


def test_what_it_did_not_write_is_refused():
    with pytest.raises(ValueError, match="on the moon"):
        Solved.from_data({**MET.as_data(), "ending": "on the moon"})
    with pytest.raises(KeyError, match="goal"):
        Solved.from_data({key: value for key, value in MET.as_data().items() if key != "goal"})


def test_a_stamp_tells_size_and_time_of_change(tmp_path):
    file = inspect(mix(tmp_path / "a.wav", 0.1))
    before = stamp_of(file.path)
    assert before == (os.path.getsize(file.path), os.stat(file.path).st_mtime_ns)  # noqa: PTH202, PTH116
    os.utime(file.path, ns=(before[1], before[1] + 1_000_000_000))
    assert stamp_of(file.path) == (before[0], before[1] + 1_000_000_000)
    with file.path.open("ab") as more:
        more.write(b"\0")
    os.utime(file.path, ns=(before[1], before[1]))
    assert stamp_of(file.path) == (before[0] + 1, before[1])


def test_a_file_has_changed_when_its_content_has_not_when_it_was_only_written_again(tmp_path):
    state = tmp_path / "a.vstpreset"
    state.write_bytes(b"as it was")
    known = KnownFile(state, hashlib.sha256(b"as it was").hexdigest(), stamp_of(state))
    assert not changed(known)
    os.utime(state, ns=(0, 1_000_000_000))
    assert not changed(known)
    state.write_bytes(b"otherwise")
    assert changed(known)
    state.unlink()
    assert changed(known)
