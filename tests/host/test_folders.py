from __future__ import annotations

import os
import platform
from pathlib import Path

import pytest

from sweeper.host.folders import files_in, standard_folders, vst2_folders


def test_the_users_own_paths_come_first(monkeypatch):
    monkeypatch.setenv("SWEEPER_PLUGIN_PATH", os.pathsep.join(["some-folder", "", "~/mine"]))
    assert standard_folders()[:2] == (Path("some-folder"), Path.home() / "mine")


@pytest.mark.parametrize(
    ("system", "part", "older"),
    [("Darwin", "Library/Audio/Plug-Ins/VST3", "Library/Audio/Plug-Ins/VST"), ("Windows", "VST3", "VstPlugins"),
     ("Linux", ".vst3", ".vst")],
)  # fmt: skip
def test_every_system_has_its_folders(monkeypatch, system, part, older):
    monkeypatch.setattr(platform, "system", lambda: system)
    assert any(folder.as_posix().endswith(part) for folder in standard_folders())
    assert any(folder.as_posix().endswith(older) for folder in vst2_folders())


def test_a_folder_that_is_not_there_holds_nothing(tmp_path):
    assert files_in(tmp_path / "gone") == []


def test_nothing_inside_of_a_bundle_is_a_plugin_of_its_own(tmp_path):
    (tmp_path / "Maker" / "One.VST3" / "Contents" / "Two.vst3").mkdir(parents=True)
    assert [file.name for file in files_in(tmp_path)] == ["One.VST3"]


def test_a_ring_of_links_is_not_walked(tmp_path):
    (tmp_path / "One.vst3").mkdir()
    (tmp_path / "loop").symlink_to(tmp_path, target_is_directory=True)
    assert [file.name for file in files_in(tmp_path)] == ["One.vst3"]
