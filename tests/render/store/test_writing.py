"""An entry appears whole or not at all."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import numpy as np
import pytest
from store_program import FORMAT, STAGE, child, key, put, sound

from sweeper.audio import blocks
from sweeper.errors import StoreError
from sweeper.render.store import open_entry, write_entry
from sweeper.render.store.place import json_path, wav_path

NAME = key(1)


def files(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.rglob("*") if path.is_file() and path.name != "store.lock")


def samples(folder: Path) -> np.ndarray:
    return np.concatenate(list(blocks(open_entry(folder, NAME).file, 4096)), axis=1)


def test_without_commit_nothing_appears(tmp_path):
    with write_entry(tmp_path, NAME, FORMAT) as writer:
        writer.write(sound(100))
    assert files(tmp_path) == []


def test_an_interrupted_writer_leaves_nothing(tmp_path):
    with pytest.raises(KeyboardInterrupt), write_entry(tmp_path, NAME, FORMAT) as writer:
        writer.write(sound(100))
        raise KeyboardInterrupt
    assert files(tmp_path) == []


def test_the_description_comes_last(tmp_path, monkeypatch):
    order = []
    replace = Path.replace

    def seen(self, target):
        order.append(target.suffix)
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", seen)
    put(tmp_path, NAME, sound(200))
    assert order == [".wav", ".json"]
    assert files(tmp_path) == [f"{NAME}.json", f"{NAME}.wav"]


def test_nothing_waits_for_the_disk(tmp_path, monkeypatch):
    synced = []
    monkeypatch.setattr(os, "fsync", synced.append)
    put(tmp_path, NAME, sound(200))
    assert synced == []


def test_float64_is_kept_as_the_nearest_float32(tmp_path):
    block = np.random.default_rng(5).normal(0, 1, (2, 500))
    with write_entry(tmp_path, NAME, FORMAT) as writer:
        writer.write(block)
        writer.commit((STAGE,), (), 0)
    assert np.array_equal(samples(tmp_path), block.astype(np.float32))


def test_the_entry_that_was_there_first_stands(tmp_path):
    with write_entry(tmp_path, NAME, FORMAT) as writer:
        writer.write(sound(200, seed=2))
        put(tmp_path, NAME, sound(200, seed=1))
        writer.commit((STAGE,), (), 1.0)
    assert np.array_equal(samples(tmp_path), sound(200, seed=1))
    assert files(tmp_path) == [f"{NAME}.json", f"{NAME}.wav"]


@pytest.mark.parametrize("suffix", [".wav", ".json"])
def test_half_an_entry_is_replaced(tmp_path, suffix):
    put(tmp_path, NAME, sound(200, seed=1))
    wav_path(tmp_path, NAME).with_suffix(suffix).unlink()
    put(tmp_path, NAME, sound(300, seed=2))
    assert np.array_equal(samples(tmp_path), sound(300, seed=2))


def test_two_processes_write_one_key(tmp_path):
    """Noise of their process number each: whichever won, it is whole."""
    both = [child("write", tmp_path, NAME) for _ in range(2)]
    assert [each.stdout.readline() for each in both] == ["written\n"] * 2
    for each in both:
        each.stdin.write("\n")
        each.stdin.flush()
    assert [each.communicate(timeout=30)[0] for each in both] == ["committed\n"] * 2
    assert any(np.array_equal(samples(tmp_path), sound(20_000, each.pid)) for each in both)
    assert files(tmp_path) == [f"{NAME}.json", f"{NAME}.wav"]


def test_a_killed_writer_leaves_no_entry(tmp_path):
    writer = child("write", tmp_path, NAME)
    assert writer.stdout.readline() == "written\n"
    writer.kill()
    writer.communicate(timeout=30)
    assert not wav_path(tmp_path, NAME).exists() and not json_path(tmp_path, NAME).exists()
    assert len(files(tmp_path)) == 1, "its part, which the next Store clears away"


if sys.platform != "win32":  # which has no such limit

    def test_a_file_that_may_not_grow_says_what_to_do_and_leaves_nothing(tmp_path):
        """The system's limit on the size of a file stands for a full disk."""
        said, _ = child("fill", tmp_path, NAME).communicate(timeout=30)
        kind, what = said.splitlines()
        assert kind == "StoreError"
        assert "SWEEPER_STORE" in what and "--store-limit 0" in what
        assert files(tmp_path) == []


@pytest.mark.parametrize("function", ["write_bytes", "replace"])
def test_a_disk_that_is_full_at_the_very_end(tmp_path, monkeypatch, function):
    def full(self, *_):
        raise OSError(28, "No space left on device")

    with pytest.raises(StoreError, match="No space left"), write_entry(tmp_path, NAME, FORMAT) as writer:
        writer.write(sound(100))
        monkeypatch.setattr(Path, function, full)
        writer.commit((STAGE,), (), 1.0)
    assert files(tmp_path) == []


def test_a_folder_that_cannot_be_made(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError, match="SWEEPER_STORE"), write_entry(tmp_path / "file", NAME, FORMAT):
        pass
    assert (tmp_path / "file").read_text() == ""
