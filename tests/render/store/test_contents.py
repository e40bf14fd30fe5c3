from __future__ import annotations

from pathlib import Path

from store_program import FORMAT, key, put, sound

from sweeper.render.store import write_entry
from sweeper.render.store.contents import entries, gone, parts, parts_of
from sweeper.render.store.place import json_path, wav_path


def test_only_files_of_our_own_names_are_seen(tmp_path):
    put(tmp_path, key(1), sound(200))
    before, subfolder = entries(tmp_path), wav_path(tmp_path, key(1)).parent
    assert list(before) == [key(1)]
    strangers = (
        subfolder / "mix.wav", subfolder / f"{key(1)}.wav.bak", subfolder / f".{key(1)}.wav",
        tmp_path / f"{key(1)}.wav",
        tmp_path / "zz" / f"zz{key(1)[2:]}.wav", tmp_path / "00" / f"{key(2)}.wav",
        tmp_path / f"{key(3)[:3]}" / f"{key(3)}.wav",
    )  # fmt: skip
    for path in strangers:
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"precious")
    assert entries(tmp_path) == before
    assert parts(tmp_path) == []


def test_an_entry_is_whole_with_both_files(tmp_path):
    for number in range(3):
        put(tmp_path, key(number), sound(200))
    wav_path(tmp_path, key(1)).unlink()
    json_path(tmp_path, key(2)).unlink()
    found = entries(tmp_path)
    assert [found[key(n)].whole for n in range(3)] == [True, False, False]
    assert [found[key(n)].bytes for n in (1, 2)] == [
        json_path(tmp_path, key(1)).stat().st_size, wav_path(tmp_path, key(2)).stat().st_size]  # fmt: skip
    assert found[key(0)].bytes == found[key(1)].bytes + found[key(2)].bytes


def test_a_store_that_is_not_there_is_empty(tmp_path):
    assert entries(tmp_path / "gone") == {}
    assert parts(tmp_path / "gone") == parts_of(tmp_path / "gone", key(1)) == []


def test_what_is_being_written_is_no_entry_yet(tmp_path):
    with write_entry(tmp_path, key(1), FORMAT) as writer:
        writer.write(sound(200))
        ((name, path),) = parts(tmp_path)
        assert (name, [path]) == (key(1), parts_of(tmp_path, key(1)))
        assert entries(tmp_path) == {}


def test_a_file_in_use_stays(tmp_path, monkeypatch):
    """Windows refuses to remove a file that somebody has open."""

    def in_use(self, missing_ok=False):
        raise PermissionError(13, "in use")

    assert gone(tmp_path / "not there")
    monkeypatch.setattr(Path, "unlink", in_use)
    assert not gone(tmp_path / "open")
