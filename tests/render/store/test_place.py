"""Where the store is. The system's folder is what platformdirs, which knows the systems' own rules, says."""

from __future__ import annotations

from pathlib import Path

import pytest
from store_program import key

from sweeper.render.store import default_folder
from sweeper.render.store.place import json_path, wav_path


def test_the_store_is_among_the_systems_caches(monkeypatch, tmp_path):
    """XDG Base Directory Specification: $XDG_CACHE_HOME; elsewhere the systems' own places."""
    monkeypatch.delenv("SWEEPER_STORE", raising=False)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path))
    folder = default_folder()
    assert folder.name == "steps" and folder.is_relative_to(tmp_path)
    assert "sweeper" in folder.parts


def test_a_variable_names_another(monkeypatch, tmp_path):
    monkeypatch.setenv("SWEEPER_STORE", str(tmp_path / "mine"))
    assert default_folder() == tmp_path / "mine"
    monkeypatch.setenv("SWEEPER_STORE", "~/mine")
    assert default_folder() == Path.home() / "mine"
    monkeypatch.setenv("SWEEPER_STORE", "here")
    assert default_folder() == Path.cwd() / "here"


def test_an_empty_variable_names_none(monkeypatch):
    monkeypatch.setenv("SWEEPER_STORE", " ")
    assert default_folder().name == "steps"


@pytest.mark.parametrize("name", ["", "../../etc/passwd", "A" * 64, "a" * 63, "a" * 64 + "\n"])
def test_what_is_no_key_is_a_mistake_of_ours(tmp_path, name):
    with pytest.raises(ValueError, match="64 hex digits"):
        wav_path(tmp_path, name)
    with pytest.raises(ValueError, match="64 hex digits"):
        json_path(tmp_path, name)


def test_the_two_files_of_an_entry_lie_side_by_side(tmp_path):
    name = key(1)
    assert wav_path(tmp_path, name) == tmp_path / name[:2] / f"{name}.wav"
    assert json_path(tmp_path, name) == tmp_path / name[:2] / f"{name}.json"
