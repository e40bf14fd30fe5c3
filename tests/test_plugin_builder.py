"""The builder of test plugins: it compiles once, side by side, and says what it lacks."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import plugin_builder
import pytest
from plugin_builder import BuildError, ToolsMissingError, build


def test_what_was_built_before_is_not_compiled_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = build("gain", tmp_path / "one", cache=tmp_path / "cache", GAIN_DB=2.0)

    def compile_nothing(what: str, *arguments: str) -> None:
        raise BuildError(f"asked to compile {what}")

    monkeypatch.setattr(plugin_builder, "_compile", compile_nothing)
    again = build("gain", tmp_path / "two", cache=tmp_path / "cache", GAIN_DB=2.0)
    assert library_of(again).read_bytes() == library_of(first).read_bytes()
    with pytest.raises(BuildError, match="asked to compile Probe Gain"):
        build("gain", tmp_path / "two", cache=tmp_path / "cache", GAIN_DB=2.5)


def test_builds_at_the_same_time_do_not_disturb_each_other(tmp_path: Path) -> None:
    with ThreadPoolExecutor(max_workers=3) as builders:
        jobs = [builders.submit(build, "witness", tmp_path, cache=tmp_path / "cache") for _ in range(3)]
    assert {job.result() for job in jobs} == {tmp_path / "Probe Witness.vst3"}
    assert sorted(path.suffix for path in (tmp_path / "cache").iterdir()) == [".o", ".so"]
    assert len(list(library_of(tmp_path / "Probe Witness.vst3").parent.iterdir())) == 1


def library_of(bundle: Path) -> Path:
    (library,) = bundle.glob("Contents/*-linux/*.so")
    return library


def test_what_the_compiler_says_is_in_the_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    broken = tmp_path / "sources"
    broken.mkdir()
    (broken / "probe.hpp").write_text("")
    (broken / "witness.cpp").write_text("this is no plugin;")
    monkeypatch.setattr(plugin_builder, "SOURCES", broken)
    with pytest.raises(BuildError, match=r"Probe Witness did not compile:\n.*witness\.cpp:1:1: error"):
        build("witness", tmp_path)
    assert not (tmp_path / "Probe Witness.vst3").exists()


@pytest.mark.parametrize(
    ("part", "value", "missing"),
    [
        ("COMPILER", "g++-that-is-not-there", "the compiler g++-that-is-not-there is not installed"),
        ("FRAMEWORK", Path("/nowhere/dpf"), "the plugin framework in /nowhere/dpf is not installed"),
    ],
)
def test_missing_tools_are_named_with_the_command_that_installs_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, part: str, value: object, missing: str
) -> None:
    monkeypatch.setattr(plugin_builder, part, value)
    with pytest.raises(ToolsMissingError, match=r"apt-get install g\+\+ dpf-source") as caught:
        plugin_builder.build_all(tmp_path)
    assert missing in str(caught.value)


@pytest.mark.parametrize(
    ("name", "constants", "complaint"),
    [
        ("gain", {"GAIN": 3.0}, r"gain has no constant \['GAIN'\]; it has \['GAIN_DB'\]"),
        ("segfault_load", {"FAULT": "abort"}, r"has no constant \['FAULT'\]"),
        ("gain", {"GAIN_DB": float("nan")}, "neither a finite number nor a name"),
        ("gain", {"GAIN_DB": "1; evil"}, "neither a finite number nor a name"),
    ],
)
def test_a_constant_that_cannot_be_is_refused(
    tmp_path: Path, name: str, constants: dict[str, Any], complaint: str
) -> None:
    with pytest.raises(TypeError, match=complaint):
        build(name, tmp_path, **constants)
