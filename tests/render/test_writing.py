"""A small file is there whole, as it was before, or not at all."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from sweeper.errors import RunFolderError
from sweeper.render.writing import write_whole


def test_the_text_is_utf8_and_its_line_ends_are_left_alone(tmp_path):
    write_whole(tmp_path / "a.csv", "Übermut\r\nzweite\n")
    assert (tmp_path / "a.csv").read_bytes() == b"\xc3\x9cbermut\r\nzweite\n"
    assert [path.name for path in tmp_path.iterdir()] == ["a.csv"]


def test_until_the_disk_has_the_new_text_the_old_one_stands(tmp_path, monkeypatch):
    path = tmp_path / "run.json"
    path.write_text("old")
    seen: list[tuple[str, int]] = []

    def looked(descriptor: int) -> None:
        seen.append((path.read_text(), os.fstat(descriptor).st_size))

    monkeypatch.setattr(os, "fsync", looked)
    write_whole(path, "a new text")
    assert seen == [("old", len("a new text"))], "all of it is handed to the disk, under another name"
    assert path.read_text() == "a new text"


def test_a_full_disk_is_said_and_leaves_the_old_text(tmp_path, monkeypatch):
    path = tmp_path / "run.json"
    path.write_text("old")

    def full(descriptor: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(RunFolderError) as refused:
        write_whole(path, "new")
    assert str(path) in refused.value.what
    assert os.strerror(errno.ENOSPC) in refused.value.what
    assert "make room" in refused.value.remedy
    assert path.read_text() == "old"


@pytest.mark.parametrize("taken", ["a folder", "nothing"])
def test_what_cannot_be_written_names_the_file(tmp_path, taken):
    path: Path = tmp_path / "gone" / "a.json"
    if taken == "a folder":
        (path / "inside").mkdir(parents=True)
    with pytest.raises(RunFolderError, match="cannot write"):
        write_whole(path, "new")
    assert path.is_dir() == (taken == "a folder")
