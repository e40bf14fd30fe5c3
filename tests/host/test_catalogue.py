from __future__ import annotations

from pathlib import Path

import pytest

from sweeper.errors import PluginMissing
from sweeper.host import catalogue


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in ("Bright EQ", "Warm Comp", "Deep/Wide Verb"):
        program = tmp_path / f"{name}.vst3" / "Contents" / "x86_64-linux"
        program.mkdir(parents=True)
        (program / f"{Path(name).name}.so").write_bytes(b"code")
    monkeypatch.setattr(catalogue.platform, "system", lambda: "Linux")
    monkeypatch.setattr("sweeper.host.bundle.platform.machine", lambda: "x86_64")
    monkeypatch.setenv("SWEEPER_PLUGIN_PATH", str(tmp_path))
    monkeypatch.setattr(catalogue, "standard_folders", lambda: (tmp_path,))
    return tmp_path


def test_bundles_are_found_in_folders_of_folders(folder):
    assert [plugin.name for plugin in catalogue.installed()] == ["Bright EQ", "Warm Comp", "Wide Verb"]


def test_of_two_of_one_name_the_first_folders_is_taken(folder, tmp_path_factory, monkeypatch):
    own = tmp_path_factory.mktemp("own")
    (own / "Warm Comp.vst3").mkdir()
    monkeypatch.setattr(catalogue, "standard_folders", lambda: (own, folder))
    assert [p.path.parent for p in catalogue.installed() if p.name == "Warm Comp"] == [own]


@pytest.mark.parametrize("written", ["Warm Comp", "warm comp", "WarmComp"])
def test_names_forgive_case_and_spaces(folder, written):
    assert catalogue.find(written, Path()) == str(folder / "Warm Comp.vst3")


def test_a_path_is_taken_relative_to_the_chain_file(folder):
    assert catalogue.find("Deep/Wide Verb.vst3", folder) == str(folder / "Deep" / "Wide Verb.vst3")


@pytest.mark.parametrize(
    ("written", "what", "remedy"),
    [
        ("Warm Cmp", "no plugin is called 'Warm Cmp'", "did you mean 'Warm Comp'"),
        ("xyzzy", "no plugin is called 'xyzzy'", "`sweeper plugins` lists"),
        ("gone/My.vst3", "there is no plugin at", ""),
        ("Old.dll", "'Old.dll' is not a VST3", "older formats cannot be hosted"),
        ("builtin:BrickwalLimiter", "no built-in effect 'BrickwalLimiter'", "'builtin:BrickwallLimiter'"),
        ("builtin:xyzzy", "no built-in effect 'xyzzy'", "there are: Bitcrush"),
    ],
)
def test_what_is_not_there_is_answered_with_what_is(folder, written, what, remedy):
    with pytest.raises(PluginMissing) as missing:
        catalogue.find(written, folder)
    assert what in missing.value.what
    assert remedy in missing.value.remedy


def test_builtin_names_forgive_case():
    assert catalogue.find("builtin:brickwall limiter", Path()) == "builtin:BrickwallLimiter"


def test_the_users_own_path_comes_first(monkeypatch):
    monkeypatch.setenv("SWEEPER_PLUGIN_PATH", "some-folder")
    assert catalogue.standard_folders()[0] == Path("some-folder")


@pytest.mark.parametrize(
    ("system", "part"), [("Darwin", "Library/Audio/Plug-Ins/VST3"), ("Windows", "VST3"), ("Linux", ".vst3")]
)
def test_every_system_has_its_folders(monkeypatch, system, part):
    monkeypatch.setattr(catalogue.platform, "system", lambda: system)
    assert any(str(folder.as_posix()).endswith(part) for folder in catalogue.standard_folders())
