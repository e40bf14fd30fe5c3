from __future__ import annotations

import json
from datetime import datetime

import pytest

from sweeper.errors import RunFolderError
from sweeper.render.folder import RunFolder, slug

NOON = datetime(2026, 11, 25, 12, 0)


@pytest.mark.parametrize(
    ("title", "expected"),
    [("Lantern Bay, first pass", "lantern-bay-first-pass"), ("Ödland / Übermut", "odland-ubermut"), ("日本", "run"),
     ("../../etc", "etc"), ("x" * 200, "x" * 60), ("", "run")],
)  # fmt: skip
def test_a_title_becomes_a_plain_folder_name(title, expected):
    assert slug(title) == expected


def test_a_taken_name_gets_a_number(tmp_path):
    names = [RunFolder.create(tmp_path, "A", NOON).path.name for _ in range(3)]
    assert names == ["2026-11-25-a", "2026-11-25-a-2", "2026-11-25-a-3"]


def test_a_folder_that_cannot_be_made_says_what_to_do(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(RunFolderError, match="--results"):
        RunFolder.create(tmp_path / "file", "A", NOON)


def test_json_is_whole_or_not_there_and_refuses_what_is_no_number(tmp_path):
    with RunFolder.create(tmp_path, "A", NOON) as folder:
        folder.write_json("run.json", {"a": 1})
        with pytest.raises(ValueError, match="JSON compliant"):
            folder.write_json("run.json", {"a": float("nan")})
        assert json.loads((folder.path / "run.json").read_text()) == {"a": 1}
        assert [p.name for p in folder.path.iterdir() if p.name.startswith(".")] == [".lock"]


def test_the_log_is_a_line_an_event_with_its_time(tmp_path):
    with RunFolder.create(tmp_path, "A", NOON) as folder:
        folder.log({"event": "said", "line": "hello\nworld"})
        folder.log({"event": "row"})
    lines = [json.loads(line) for line in (folder.path / "log.jsonl").read_text().splitlines()]
    assert [line["event"] for line in lines] == ["said", "row"]
    assert datetime.fromisoformat(lines[0]["at"]).tzinfo is not None


def test_what_a_killed_worker_left_half_done_is_gone_when_the_run_goes_on(tmp_path):
    with RunFolder.create(tmp_path, "A", NOON) as folder:
        path = folder.path
        folder.write_json("run.json", {})
        folder.subfolder("variants")
        (folder.variant("001") / "recall.json").write_text("{}")
    looked = path / "variants" / "001" / ".inside.part-abc"
    looked.mkdir()
    (looked / "1.wav").write_bytes(b"a take")
    (path / "variants" / "001" / ".render.wav.part-1-2").write_bytes(b"half a render")
    with RunFolder.at(path):
        assert [p.name for p in path.rglob("*") if ".part" in p.name] == []
    assert (path / "variants" / "001" / "recall.json").is_file()
