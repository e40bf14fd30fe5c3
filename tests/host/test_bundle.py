"""Bundles told apart from their files alone. Sources: the VST3 bundle layout and moduleinfo.json of the VST3
developer documentation (from memory), and Apple's Info.plist keys (from memory)."""

from __future__ import annotations

import json
import platform
import plistlib
from pathlib import Path

import pytest
from program_files import elf, mach, pe

from sweeper.host.bundle import look_into, program_of


def on(monkeypatch: pytest.MonkeyPatch, system: str, machine: str) -> None:
    monkeypatch.setattr(platform, "system", lambda: system)
    monkeypatch.setattr(platform, "machine", lambda: machine)


@pytest.fixture(autouse=True)
def on_linux(monkeypatch: pytest.MonkeyPatch) -> None:
    on(monkeypatch, "Linux", "x86_64")


def bundle(folder: Path, name: str = "Some Comp.vst3", arch: str = "x86_64-linux", code: bytes = elf("x86-64")) -> Path:
    program = folder / name / "Contents" / arch
    program.mkdir(parents=True)
    (program / "Some Comp.so").write_bytes(code)
    return folder / name


def module_info(path: Path, *classes: tuple[str, object]) -> str:
    text = json.dumps({
        "Name": "x", "Version": "1.2.3", "Factory Info": {"Vendor": "The Makers"},
        "Classes": [{"Category": "Audio Module Class", "Name": name, "Sub Categories": sub} for name, sub in classes]
                   + [{"Category": "Component Controller Class", "Name": "Controller"}],
    })  # fmt: skip
    place = path / "Contents" / "Resources"
    place.mkdir()
    (place / "moduleinfo.json").write_text("// made by hand\n" + text.replace("}]", "},]"))
    return text


def test_a_plain_bundle_is_called_like_its_folder(tmp_path):
    found = look_into(bundle(tmp_path))
    assert (found.name, found.format, found.fault, found.names_told) == ("Some Comp", "VST3", "", False)
    assert program_of(found.path).name == "Some Comp.so"


def test_the_program_of_one_of_several_is_that_of_the_bundle(tmp_path):
    path = bundle(tmp_path)
    assert program_of(f"{path}::Inner / Name") == program_of(path) == path / "Contents/x86_64-linux/Some Comp.so"


def test_moduleinfo_gives_name_maker_and_version_even_with_comments_and_trailing_commas(tmp_path):
    path = bundle(tmp_path)
    module_info(path, ("Real Name", ["Fx"]))
    found = look_into(path)
    assert (found.name, found.maker, found.version, found.names) == ("Real Name", "The Makers", "1.2.3", ("Real Name",))
    assert found.names_told


def test_a_bundle_of_several_keeps_its_folders_name_and_lists_them(tmp_path):
    path = bundle(tmp_path)
    module_info(path, ("One", "Fx|EQ"), ("Two", ["Fx"]), ("Organ", ["Instrument", "Synth"]))
    found = look_into(path)
    assert (found.name, found.names, found.instruments, found.fault) == ("Some Comp", ("One", "Two"), ("Organ",), "")


@pytest.mark.parametrize("sub_categories", ["Instrument|Synth", ["Instrument"], ["Fx", "Instrument"]])
def test_an_instrument_is_told_without_loading_it(tmp_path, sub_categories):
    path = bundle(tmp_path)
    module_info(path, ("Organ", sub_categories))
    found = look_into(path)
    assert (found.name, found.fault) == ("Organ", "an instrument, not an effect")
    assert "effects only" in found.remedy


def test_info_plist_gives_the_version(tmp_path):
    path = bundle(tmp_path)
    (path / "Contents" / "Info.plist").write_bytes(plistlib.dumps({"CFBundleShortVersionString": "4.5"}))
    assert look_into(path).version == "4.5"


def test_an_audio_units_names_maker_and_instruments_are_in_its_info_plist(tmp_path, monkeypatch):
    on(monkeypatch, "Darwin", "arm64")
    path = bundle(tmp_path, "Pack.component", "MacOS", mach("x86-64", "ARM64"))
    units = [{"name": "The Makers: Comp", "type": "aufx"}, {"name": "The Makers: Lim", "type": "aumf"},
             {"name": "The Makers: Organ", "type": "aumu"}]  # fmt: skip
    content = {"CFBundleShortVersionString": "2.0", "AudioComponents": units}
    (path / "Contents" / "Info.plist").write_bytes(plistlib.dumps(content))
    found = look_into(path)
    assert (found.format, found.maker, found.version) == ("AU", "The Makers", "2.0")
    assert (found.names, found.instruments, found.fault) == (("Comp", "Lim"), ("Organ",), "")


@pytest.mark.parametrize("content", [b"{", b"\xff\xfe", b'{"Classes": 3}', b'["a"]'])
def test_a_damaged_moduleinfo_is_passed_over_and_told(tmp_path, content):
    path = bundle(tmp_path)
    (path / "Contents" / "moduleinfo.json").write_bytes(content)
    found = look_into(path)
    assert (found.name, found.fault) == ("Some Comp", "")
    assert "moduleinfo.json cannot be read" in found.note


@pytest.mark.parametrize("content", [b"", b"<plist", b"<?xml version='1.0'?><plist><array/></plist>", b"bplist00"])
def test_a_damaged_info_plist_is_passed_over_and_told(tmp_path, content):
    path = bundle(tmp_path)
    (path / "Contents" / "Info.plist").write_bytes(content)
    assert "Info.plist cannot be read" in look_into(path).note


@pytest.mark.parametrize(
    ("arch", "code", "words", "remedy"),
    [
        ("x86_64-win", pe("x86-64"), "built for another system (Windows on x86-64); this one is Linux on x86-64",
         "install the version for Linux on x86-64"),
        ("MacOS", mach("ARM64"), "built for another system (macOS)", "the version for Linux"),
        ("aarch64-linux", elf("ARM64"), "built for another processor (Linux on ARM64)", "for Linux on x86-64"),
        ("x86_64-linux", elf("ARM64"), "built for another processor (Linux on ARM64)", "for Linux on x86-64"),
        ("x86_64-linux", pe("x86-64"), "built for another system (Windows on x86-64)", "for Linux on x86-64"),
        ("x86_64-linux", b"", "a broken bundle: Some Comp.so in it is no program", "install it again"),
        ("Resources", b"x", "a broken bundle: there is no program in it", "install it again"),
    ],
)  # fmt: skip
def test_what_cannot_run_here_is_said(tmp_path, arch, code, words, remedy):
    found = look_into(bundle(tmp_path, arch=arch, code=code))
    assert words in found.fault
    assert remedy in found.remedy


@pytest.mark.parametrize(
    ("system", "machine", "arch", "code", "words", "remedy"),
    [
        ("Darwin", "arm64", "MacOS", mach("x86-64", "ARM64"), "", ""),
        ("Darwin", "arm64", "MacOS", mach("x86-64"), "another processor (macOS on x86-64)", "Python for x86-64"),
        ("Darwin", "x86_64", "MacOS", mach("ARM64"), "another processor (macOS on ARM64)", "for macOS on x86-64"),
        ("Darwin", "arm64", "x86_64-linux", elf("x86-64"), "another system (Linux on x86-64)", "for macOS on ARM64"),
        ("Windows", "AMD64", "x86_64-win", pe("x86-64"), "", ""),
        ("Windows", "AMD64", "x86-win", pe("x86"), "another processor (Windows on x86)", "for Windows on x86-64"),
        ("Windows", "ARM64", "arm64-win", pe("ARM64"), "", ""),
        ("Linux", "aarch64", "aarch64-linux", elf("ARM64"), "", ""),
    ],
)
def test_every_system_knows_its_own(tmp_path, monkeypatch, system, machine, arch, code, words, remedy):
    on(monkeypatch, system, machine)
    found = look_into(bundle(tmp_path, arch=arch, code=code))
    assert words in found.fault if words else found.fault == ""
    assert remedy in found.remedy


@pytest.mark.parametrize(
    ("system", "machine", "code", "words"),
    [
        ("Windows", "AMD64", pe("x86-64"), ""),
        ("Windows", "AMD64", pe("x86"), "built for another processor (Windows on x86)"),
        ("Linux", "x86_64", pe("x86-64"), "a single file built for Windows on x86-64; on Linux a VST3 is a folder"),
        ("Darwin", "arm64", b"?", "a single file; on macOS a VST3 is a folder"),
    ],
)
def test_a_single_file_is_a_vst3_on_windows_only(tmp_path, monkeypatch, system, machine, code, words):
    on(monkeypatch, system, machine)
    (tmp_path / "Some Comp.vst3").write_bytes(code)
    found = look_into(tmp_path / "Some Comp.vst3")
    assert words in found.fault if words else found.fault == ""
    assert program_of(found.path) == found.path


def test_a_folder_without_contents_is_broken(tmp_path):
    (tmp_path / "Empty.vst3").mkdir()
    assert "no Contents folder" in look_into(tmp_path / "Empty.vst3").fault


def test_an_audio_unit_is_for_macos(tmp_path):
    (tmp_path / "Some.component").mkdir()
    found = look_into(tmp_path / "Some.component")
    assert (found.format, found.fault) == ("AU", "an Audio Unit; they run on macOS only")
    assert found.remedy == "install the VST3 of it"


@pytest.mark.parametrize("name", ["Warm Comp-vst.so", "Warm Comp.dll", "Warm Comp.vst"])
def test_a_vst2_is_told(tmp_path, name):
    found = look_into(tmp_path / name)
    assert (found.name, found.format, found.fault) == ("Warm Comp", "VST2", "a VST2")
    assert "install the VST3" in found.remedy
