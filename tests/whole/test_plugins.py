"""`sweeper plugins` as a user runs it: listed, every plugin loaded once, a bundle of several in a chain."""

from __future__ import annotations

import shutil
from pathlib import Path

import plugin_kinds
import pytest
from plugin_builder import read_witness
from plugin_fixtures import PACKAGED, packaged
from program_files import pe
from whole_runs import Ran, chain_file, mix, sweeper

PATIENCE_S = 20  # some of the packaged plugins take seconds where the processor is busy


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """An empty folder of plugins."""
    (tmp_path / "own").mkdir()
    return tmp_path / "own"


def plugins(own: Path, *options: object) -> Ran:
    """`sweeper plugins`, with what it remembers and what the witness sees beside the folder."""
    place = own.parent
    return sweeper("plugins", *options, cwd=place, plugins=own, SWEEPER_STORE=str(place / "store"),
                   SWEEPER_WITNESS=str(place / "witness.log"))  # fmt: skip


def by_name(ran: Ran) -> dict[str, dict[str, object]]:
    """The answer's plugin files by name."""
    return {plugin["name"]: plugin for plugin in ran.data["installed"]}


def test_the_packaged_plugins_are_listed_and_loaded_each_with_what_it_is(own):
    packaged("ZamComp")
    listed = {name for name, plugin in by_name(plugins(own, "--json")).items() if plugin["fault"] is None}
    assert len(listed) == len(list(PACKAGED.glob("*.vst3"))) == 17
    ran = plugins(own, "--load-all", "--json")
    loaded = {name: plugin["loaded"] for name, plugin in by_name(ran).items()}
    assert ran.code == 0
    assert set(loaded) == listed
    assert all(len(loaded[name]) == 1 for name in loaded), "one each"
    one = {name: plugin[0] for name, plugin in loaded.items()}
    assert {one[name]["channels"] for name in ("ZamComp", "ZamEQ2", "ZamGate")} == {1}
    assert {one[name]["channels"] for name in ("ZamCompX2", "ZaMaximX2", "ZamVerb")} == {2}
    assert one["ZaMaximX2"]["latency_frames"] == 480
    assert {plugin["maker"] for plugin in one.values()} == {"Damien Zammit"}
    text = plugins(own)
    assert [line.split() for line in text.out.splitlines() if line.startswith("ZamCompX2 ")] == [
        ["ZamCompX2", "VST3", "Damien", "Zammit", "dynamics,", "stereo", "stereo", "/usr/lib/vst3"]
    ]
    assert text.err == ran.err == "", "progress is for terminals"


@pytest.mark.long
def test_what_crashes_hangs_or_ends_is_quarantined_and_never_loaded_again_unasked(own, probes):
    for name in ("segfault_load", "exit0_load", "hang_load", "witness"):
        shutil.copytree(probes[name], own / probes[name].name)
    ran = plugins(own, "--load-all", "--patience", PATIENCE_S)
    assert ran.code == 0
    assert "18 loaded, 3 quarantined" in ran.out
    lines = {line.split(" (VST3)")[0].strip(): line for line in ran.out.splitlines() if "quarantined:" in line}
    assert "crashed with a segmentation fault" in lines["Probe Segfault Load"]
    assert "exit code 0" in lines["Probe Exit0 Load"]
    assert "no sign of life for 20 s" in lines["Probe Hang Load"]
    saw = len(read_witness(own.parent / "witness.log"))
    second = plugins(own, "--load-all", "--patience", PATIENCE_S)
    assert "every plugin is known as it is" in second.out
    assert second.out.splitlines()[:-1] == ran.out.splitlines()[:-1] == plugins(own).out.splitlines()
    assert len(read_witness(own.parent / "witness.log")) == saw > 0


def test_what_cannot_run_here_is_listed_with_the_reason(own):
    program = own / "Other.vst3" / "Contents" / "x86_64-win" / "Other.vst3"
    program.parent.mkdir(parents=True)
    program.write_bytes(pe("x86-64"))
    (line,) = [line for line in plugins(own).out.splitlines() if "Other" in line]
    assert "it is built for another system (Windows on x86-64); this one is Linux" in line
    assert "install the version for Linux" in line
    assert str(own / "Other.vst3") in line


@pytest.mark.long
def test_one_of_several_in_a_bundle_goes_into_a_chain(own):
    plugin_kinds.shell(own, inner=("gain", "mono_gain"))
    place = own.parent
    stage = "mixes: [mix.wav]\ninserts: [{{name: one, plugin: {plugin}}}]\n"
    mix(place / "mix.wav", 1.0)
    unknown = sweeper("check", chain_file(place, stage.format(plugin="Probe Shell")), cwd=place, plugins=own)
    assert unknown.code == 3
    assert "Probe Shell.vst3 holds 2 plugins; they are: Probe Gain, Probe Mono Gain" in unknown.err
    named = f'"{own}/Probe Shell.vst3::Probe Gain"'
    ran = sweeper("check", chain_file(place, stage.format(plugin=named)), cwd=place, plugins=own)
    assert ran.code == 0, ran.err
    shown = sweeper("plugins", f"{own}/Probe Shell.vst3::Probe Mono Gain", cwd=place, plugins=own)
    assert "Probe Mono Gain  by Sweeper tests, 1.0.0" in shown.out
    assert plugins(own, "--load-all").code == 0
    pasted = plugins(own, "probe mono gain", "--as-stage").out
    assert 'plugin: "Probe Mono Gain"' in pasted


@pytest.mark.parametrize("wrong", [("Gain", "--load-all"), ("--again",), ("--as-stage",), ("--workers", 3)])
def test_options_that_do_not_go_together_are_refused(own, wrong):
    assert plugins(own, *wrong).code == 2
