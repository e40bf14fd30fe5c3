from __future__ import annotations

import platform
import shutil
from pathlib import Path

import pytest
from plugin_kinds import described_on_disk
from program_files import elf

from sweeper.errors import PluginMissing
from sweeper.host import catalogue
from sweeper.host.bundle import program_of
from sweeper.host.folders import files_in
from sweeper.host.remembered import program_now, remember
from sweeper.host.tried import Loads, Tried


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in ("Bright EQ", "Warm Comp", "Deep/Wide Verb"):
        program = tmp_path / f"{name}.vst3" / "Contents" / "x86_64-linux"
        program.mkdir(parents=True)
        (program / f"{Path(name).name}.so").write_bytes(elf("x86-64"))
    monkeypatch.setattr(platform, "system", lambda: "Linux")
    monkeypatch.setattr(platform, "machine", lambda: "x86_64")
    monkeypatch.setenv("SWEEPER_STORE", str(tmp_path / "remembered"))
    monkeypatch.setattr(catalogue, "standard_folders", lambda: (tmp_path,))
    return tmp_path


def test_bundles_are_found_in_folders_of_folders(folder):
    assert [plugin.name for plugin in catalogue.installed()] == ["Bright EQ", "Warm Comp", "Wide Verb"]


def test_of_two_of_one_name_the_first_folders_is_taken(folder, tmp_path_factory, monkeypatch):
    own = tmp_path_factory.mktemp("own")
    shutil.copytree(folder / "Warm Comp.vst3", own / "Warm Comp.vst3")
    monkeypatch.setattr(catalogue, "standard_folders", lambda: (own, folder))
    assert [p.path.parent for p in catalogue.installed() if p.name == "Warm Comp"] == [own]


def test_one_that_cannot_be_used_hides_no_other_of_its_name(folder, tmp_path_factory, monkeypatch):
    own = tmp_path_factory.mktemp("own")
    (own / "Warm Comp.vst3").mkdir()
    monkeypatch.setattr(catalogue, "standard_folders", lambda: (own, folder))
    assert [(p.path.parent, p.fault) for p in catalogue.installed() if p.name == "Warm Comp"] == [(folder, "")]


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
        ("Old.dll", "'Old.dll' is not a VST3", "install the VST3 of it"),
        ("some/Old.so", "'some/Old.so' is not a VST3", "install the VST3 of it"),
        ("Warm Comp.vst3/Contents/x86_64-linux/Warm Comp.so", "is a file inside of a bundle", "name the bundle itself"),
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


@pytest.fixture
def shell(folder: Path) -> Path:
    """A bundle that says that it holds two effects and an instrument."""
    path = folder / "Bright EQ.vst3"
    described_on_disk(path, ["Pack Comp", "Pack / Lim"])
    return path


@pytest.mark.parametrize("written", ["Pack / Lim", "pack/lim", "{path}::Pack / Lim", "Bright EQ.vst3::pack / lim"])
def test_one_of_several_in_a_bundle_is_named_by_its_own_name(shell, written):
    assert catalogue.find(written.format(path=shell), shell.parent) == f"{shell}::Pack / Lim"


@pytest.mark.parametrize(
    ("written", "what", "remedy"),
    [
        ("Bright EQ", "'Bright EQ' holds 2 plugins: Pack Comp, Pack / Lim", "name one of them, as 'Pack Comp'"),
        ("Bright EQ.vst3", "'Bright EQ' holds 2 plugins", "Bright EQ.vst3::Pack Comp'"),
        ("Bright EQ.vst3::Pack Cmp", "holds no plugin 'Pack Cmp'; it holds Pack Comp", "did you mean 'Pack Comp'"),
        ("Pack Cmp", "no plugin is called 'Pack Cmp'", "did you mean 'Pack Comp'"),
    ],
)
def test_a_bundle_of_several_is_not_named_as_a_whole(shell, written, what, remedy):
    with pytest.raises(PluginMissing) as missing:
        catalogue.find(written, shell.parent)
    assert what in missing.value.what
    assert remedy in missing.value.remedy


def loads(name: str) -> Loads:
    return Loads(name, "The Makers", "1", name, "Fx", 2, 0, 3, 0.1)


def test_a_bundle_that_was_loaded_is_known_by_what_was_in_it_until_it_changes(folder):
    path = folder / "Warm Comp.vst3"
    remember({str(path): Tried(program_now(program_of(path)), (loads("Warm One"), loads("Warm Two")), ())})
    assert catalogue.find("warm two", Path()) == f"{path}::Warm Two"
    program_of(path).write_bytes(elf("x86-64") + b"newer")
    assert catalogue.find("Warm Comp", Path()) == str(path)
    with pytest.raises(PluginMissing):
        catalogue.find("Warm Two", Path())


def test_a_path_to_one_of_several_that_nothing_is_known_of_is_believed(folder):
    path = folder / "Warm Comp.vst3"
    assert catalogue.find(f"{path}::Warm Two", Path()) == f"{path}::Warm Two"


def test_loose_vst2s_are_found_and_other_libraries_are_not(tmp_path):
    (tmp_path / "Old.so").write_bytes(elf("x86-64") + b"...VSTPluginMain...")
    (tmp_path / "libhelp.so").write_bytes(elf("x86-64"))
    (tmp_path / "Empty.dll").write_bytes(b"")
    (tmp_path / "Mac.vst" / "Contents").mkdir(parents=True)
    (tmp_path / "Other.lv2").mkdir()
    (tmp_path / "Other.lv2" / "Other.so").write_bytes(elf("x86-64") + b"VSTPluginMain")
    assert [file.name for file in files_in(tmp_path)] == ["Mac.vst", "Old.so"]


def test_what_is_installed_as_a_vst2_only_is_said(folder, tmp_path_factory, monkeypatch):
    older = tmp_path_factory.mktemp("older")
    monkeypatch.setattr(catalogue, "vst2_folders", lambda: (older,))
    (older / "Tape Sound-vst.so").write_bytes(elf("x86-64") + b"VSTPluginMain")
    with pytest.raises(PluginMissing) as missing:
        catalogue.find("tape sound", Path())
    assert "is installed as a VST2 only, at " in missing.value.what
    assert "install the VST3 of it" in missing.value.remedy


def test_what_cannot_run_here_is_refused_with_a_remedy(folder):
    (folder / "Warm Comp.vst3" / "Contents" / "x86_64-linux" / "Warm Comp.so").write_bytes(elf("ARM64"))
    with pytest.raises(PluginMissing) as missing:
        catalogue.find("Warm Comp", Path())
    assert "it is built for another processor (Linux on ARM64)" in missing.value.what
    assert missing.value.remedy.startswith("install the version for Linux on x86-64; it lies at ")


def test_the_users_own_path_comes_first(monkeypatch):
    monkeypatch.setenv("SWEEPER_PLUGIN_PATH", "some-folder")
    assert catalogue.standard_folders()[0] == Path("some-folder")


@pytest.mark.parametrize(
    ("system", "part"), [("Darwin", "Library/Audio/Plug-Ins/VST3"), ("Windows", "VST3"), ("Linux", ".vst3")]
)
def test_every_system_has_its_folders(monkeypatch, system, part):
    monkeypatch.setattr(platform, "system", lambda: system)
    assert any(str(folder.as_posix()).endswith(part) for folder in catalogue.standard_folders())
