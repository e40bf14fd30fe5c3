"""Plugins loaded in workers: those that load, and those that take their process along."""

from __future__ import annotations

import shutil
from pathlib import Path

import plugin_builder
import plugin_kinds
import pytest
from plugin_fixtures import done

from sweeper.errors import PluginError
from sweeper.host import catalogue
from sweeper.host.load_all import _quarantined, load_all, to_be_loaded
from sweeper.host.remembered import remembered
from sweeper.host.tried import Loads, Tried
from sweeper.workers import Cause, Failed, Pool

TRY = "sweeper.host.trying:try_plugin"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that holds every plugin that is installed."""
    monkeypatch.setenv("SWEEPER_STORE", str(tmp_path / "store"))
    monkeypatch.setenv("SWEEPER_WITNESS", str(tmp_path / "witness.log"))
    monkeypatch.setattr(catalogue, "standard_folders", lambda: (tmp_path / "plugins",))
    (tmp_path / "plugins").mkdir()
    return tmp_path / "plugins"


def loaded(patience_s: float = 20.0, again: bool = False) -> dict[str, Tried]:
    wanted = to_be_loaded(catalogue.installed(), again)
    return {plugin.path.stem: tried for plugin, tried in load_all(wanted, 2, patience_s, lambda event: None)}


def instances(folder: Path) -> int:
    log = folder.parent / "witness.log"
    return sum(e.event == "instantiate" for e in plugin_builder.read_witness(log)) if log.exists() else 0


def test_every_fault_is_one_quarantined_plugin_and_the_others_load(folder, probes):
    for name in ("segfault_load", "exit0_load", "hang_load", "gain", "mono_gain", "delay_honest"):
        shutil.copytree(probes[name], folder / probes[name].name)
    plugin_kinds.instrument(folder)
    came = loaded(patience_s=3.0)
    bad = {stem: tried.quarantined[0] for stem, tried in came.items() if tried.quarantined}
    assert {stem: one.cause for stem, one in bad.items()} == {
        "Probe Segfault Load": "crashed", "Probe Exit0 Load": "ended", "Probe Hang Load": "hung",
        "Probe Instrument": "refused",
    }  # fmt: skip
    assert "segmentation fault" in bad["Probe Segfault Load"].what
    assert "exit code 0" in bad["Probe Exit0 Load"].what
    assert "no sign of life" in bad["Probe Hang Load"].what
    assert bad["Probe Instrument"].what == "Probe Instrument is an instrument, not an effect"
    assert all(one.remedy for one in bad.values())
    good = {one.name: one for tried in came.values() for one in tried.loads}
    assert {name: (one.maker, one.channels, one.latency_frames, one.settings) for name, one in good.items()} == {
        "Probe Gain": ("Sweeper tests", 2, 0, 2), "Probe Mono Gain": ("Sweeper tests", 1, 0, 2),
        "Probe Delay Honest": ("Sweeper tests", 2, 441, good["Probe Delay Honest"].settings),
    }  # fmt: skip
    assert remembered() == {str(folder / f"{stem}.vst3"): tried for stem, tried in came.items()}
    assert to_be_loaded(catalogue.installed(), again=False) == ()


def test_a_second_time_nothing_is_loaded_but_what_was_replaced(folder, probes):
    shutil.copytree(probes["witness"], folder / probes["witness"].name)
    shutil.copytree(probes["gain"], folder / probes["gain"].name)
    assert set(loaded()) == {"Probe Witness", "Probe Gain"}
    once = instances(folder)
    assert once > 0
    assert loaded() == {}
    assert instances(folder) == once
    plugin_kinds.replaced(folder / probes["gain"].name, by=probes["witness"])
    assert [one.name for tried in loaded().values() for one in tried.loads] == ["Probe Witness"]
    assert instances(folder) == 2 * once, "only the replaced one"
    assert set(loaded(again=True)) == {"Probe Witness", "Probe Gain"}
    assert instances(folder) == 4 * once


@pytest.mark.parametrize("told", [True, False])
def test_every_plugin_of_a_bundle_of_several_is_loaded_by_itself(folder, told):
    bundle = plugin_kinds.shell(folder, inner=("witness", "mono_gain"))
    if told:
        plugin_kinds.described_on_disk(bundle, ["Probe Witness", "Probe Mono Gain", "Probe Not There"])
    (came,) = loaded().values()
    assert sorted(one.name for one in came.loads) == ["Probe Mono Gain", "Probe Witness"]
    assert [(one.name, one.cause) for one in came.quarantined] == [("Probe Not There", "refused")] * told
    assert catalogue.find("probe witness", Path()) == f"{bundle}::Probe Witness"


def test_one_that_crashes_quarantines_all_of_its_file_for_the_library_looks_at_every_one(folder):
    plugin_kinds.shell(folder, inner=("witness", "segfault_load"))
    (came,) = loaded().values()
    assert (came.loads, [(one.name, one.cause) for one in came.quarantined]) == ((), [("", "crashed")])


def test_a_plugin_that_cannot_run_here_is_not_loaded(folder, probes):
    program = folder / "Other.vst3" / "Contents" / "x86_64-win" / "Other.vst3"
    program.parent.mkdir(parents=True)
    program.write_bytes(b"MZ")
    assert to_be_loaded(catalogue.installed(), again=True) == ()


def test_one_of_several_is_described_and_renders_by_its_own_name(tmp_path, pool: Pool):
    bundle = plugin_kinds.shell(tmp_path)
    for name in ("Probe Gain", "Probe Witness"):
        described = done(pool, "hosting_tasks:described", f"{bundle}::{name}")
        assert (described.name, described.path) == (name, f"{bundle}::{name}")


def test_names_in_a_bundle_are_checked_when_it_is_loaded(tmp_path, probes, pool: Pool):
    bundle = plugin_kinds.shell(tmp_path)
    with pytest.raises(PluginError, match="holds 2 plugins; they are: Probe Gain, Probe Witness") as several:
        done(pool, "hosting_tasks:described", bundle)
    assert "::Probe Gain" in several.value.remedy
    with pytest.raises(PluginError, match="holds no 'Probe Lim'; they are: Probe Gain, Probe Witness"):
        done(pool, "hosting_tasks:described", f"{bundle}::Probe Lim")
    with pytest.raises(PluginError, match="holds no 'Probe Lim', only 'Probe Gain'"):
        done(pool, "hosting_tasks:described", f"{probes['gain']}::Probe Lim")
    with pytest.raises(PluginError, match=r"Broken\.vst3 would not load"):
        done(pool, "hosting_tasks:described", tmp_path / "Broken.vst3")


def test_a_plugin_is_tried_by_itself_and_a_bundle_of_several_says_what_is_in_it(tmp_path, probes, pool: Pool):
    one = done(pool, TRY, (str(probes["gain"]), 10.0))
    assert isinstance(one, Loads)
    assert 0 < one.seconds < 10
    assert done(pool, TRY, (str(plugin_kinds.shell(tmp_path)), 10.0)) == ("Probe Gain", "Probe Witness")


def test_an_instrument_is_refused_in_words(tmp_path, pool: Pool):
    with pytest.raises(PluginError, match="Probe Instrument is an instrument, not an effect") as refused:
        done(pool, "hosting_tasks:described", plugin_kinds.instrument(tmp_path))
    assert "effects only" in refused.value.remedy


@pytest.mark.parametrize("cause", Cause)
def test_whatever_ended_a_load_is_a_quarantined_plugin(cause):
    bad = _quarantined(Failed("k", cause, "went wrong", "", "", (), None), "Inner")
    assert (bad.name, bad.what, bool(bad.cause), bool(bad.remedy)) == ("Inner", "went wrong", True, True)
