"""Bundles told apart from their files alone. Sources: the VST3 bundle layout and moduleinfo.json of the VST3
developer documentation (from memory), and Apple's Info.plist keys (from memory)."""

from __future__ import annotations

import json
import platform
import plistlib
from pathlib import Path

import pytest

from sweeper.host.bundle import look_into, program_of

pytestmark = pytest.mark.usefixtures("on_linux")


@pytest.fixture
def on_linux(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(platform, "system", lambda: "Linux")
    monkeypatch.setattr(platform, "machine", lambda: "x86_64")


def bundle(folder: Path, name: str = "Some Comp.vst3", arch: str = "x86_64-linux") -> Path:
    program = folder / name / "Contents" / arch
    program.mkdir(parents=True)
    (program / "Some Comp.so").write_bytes(b"code")
    return folder / name


def test_a_plain_bundle_is_called_like_its_folder(tmp_path):
    found = look_into(bundle(tmp_path))
    assert (found.name, found.format, found.fault) == ("Some Comp", "VST3", "")
    assert program_of(found.path).name == "Some Comp.so"


def test_moduleinfo_gives_name_maker_and_version_even_with_trailing_commas(tmp_path):
    path = bundle(tmp_path)
    text = json.dumps({
        "Name": "x", "Version": "1.2.3", "Factory Info": {"Vendor": "The Makers"},
        "Classes": [{"Category": "Audio Module Class", "Name": "Real Name"},
                    {"Category": "Component Controller Class", "Name": "Controller"}],
    })  # fmt: skip
    place = path / "Contents" / "Resources"
    place.mkdir()
    (place / "moduleinfo.json").write_text(text.replace("}]", "},]"))
    found = look_into(path)
    assert (found.name, found.maker, found.version, found.names) == ("Real Name", "The Makers", "1.2.3", ("Real Name",))


def test_info_plist_gives_the_version(tmp_path):
    path = bundle(tmp_path)
    (path / "Contents" / "Info.plist").write_bytes(plistlib.dumps({"CFBundleShortVersionString": "4.5"}))
    assert look_into(path).version == "4.5"


@pytest.mark.parametrize("content", [b"{", b"\xff\xfe", b'{"Classes": 3}', b'["a"]'])
def test_a_damaged_moduleinfo_is_passed_over(tmp_path, content):
    path = bundle(tmp_path)
    (path / "Contents" / "moduleinfo.json").write_bytes(content)
    assert look_into(path).name == "Some Comp"


@pytest.mark.parametrize(
    ("arch", "words"),
    [("x86_64-win", "built for another system"), ("MacOS", "built for another system"),
     ("aarch64-linux", "built for another system"), ("Resources", "no program in it")],
)  # fmt: skip
def test_what_cannot_run_here_is_said(tmp_path, arch, words):
    assert words in look_into(bundle(tmp_path, arch=arch)).fault


def test_a_folder_without_contents_is_broken(tmp_path):
    (tmp_path / "Empty.vst3").mkdir()
    assert "no Contents folder" in look_into(tmp_path / "Empty.vst3").fault


def test_an_audio_unit_is_for_macos(tmp_path):
    (tmp_path / "Some.component").mkdir()
    found = look_into(tmp_path / "Some.component")
    assert (found.format, found.fault) == ("AU", "an Audio Unit; they run on macOS only")
