"""`sweeper check` and `check --twice` as a user runs them, on plugins with known faults."""

from __future__ import annotations

from pathlib import Path

import pytest
from trial_probes import trial_probe
from whole_runs import chain_file, mix, sweeper

CHAIN = """
mix: mix.wav
inserts:
  - {name: late, plugin: Probe Delay Lying{latency}}
  - {name: noisy, plugin: Probe Noise Process}
  - {name: steady, plugin: Probe Gain}
  - {name: off, plugin: Probe Gain, bypass: on}
output: {name: limiter, plugin: "builtin:BrickwallLimiter"}
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    mix(tmp_path / "mix.wav", 3.0)
    return tmp_path


def checked(folder: Path, plugins: Path, *options: str, latency: str = "", text: str = CHAIN):
    file = chain_file(folder, text.replace("{latency}", latency))
    ran = sweeper("check", file, *options, cwd=folder, plugins=plugins, SWEEPER_STORE=str(folder / "store"))
    assert ran.code == 0, ran.err
    return ran


@pytest.mark.long
def test_a_delay_that_is_not_told_is_found_and_what_is_advised_mends_it(folder, plugins):
    said = " ".join(checked(folder, plugins).out.split())
    assert "note: 'late' (Probe Delay Lying) is 377 samples late: it reports 64; write `latency: 441 samples`" in said
    mended = " ".join(checked(folder, plugins, latency=", latency: 441 samples").out.split())
    assert "samples late" not in mended
    assert "delay 441 frames as the chain file says, taken out" in mended


@pytest.mark.long
def test_a_plugin_that_beeps_is_found(folder, plugins, tmp_path_factory):
    trial = trial_probe(tmp_path_factory.mktemp("trial"), "beep", level_dbfs=-10.0)
    text = f"mix: mix.wav\ninserts: [{{name: glue, plugin: '{trial}'}}]\n"
    (stage,) = checked(folder, plugins, "--json", text=text).data["stages"]
    assert [one["kind"] for one in stage["behaviour"]] == ["bursts"]
    assert stage["behaviour"][0]["at_s"] == pytest.approx([3], abs=0.05)


def test_twice_says_of_each_stage_whether_it_repeats(folder, plugins):
    data = checked(folder, plugins, "--twice", "--json").data
    told = {stage["name"]: stage.get("repeats") for stage in data["stages"]}
    assert told["off"] is None, "what is bypassed is not rendered"
    assert told["late"]["verdict"] == told["steady"]["verdict"] == told["limiter"]["verdict"] == "repeats"
    assert told["steady"]["fresh"] == {"identical": True, "peak_dbfs": None, "relative_db": None}
    assert told["noisy"]["verdict"].startswith("never repeats (floor -5")
    assert -60 < told["noisy"]["fresh"]["peak_dbfs"] < -53.9, "0.002 at most, by its constant: -53.98 dBFS"
    assert data["repeats"]["verdict"].startswith("never repeats")
    assert (folder / "store" / "repeats.json").is_file()


@pytest.mark.long
def test_without_asking_nothing_is_rendered_twice(folder, plugins):
    data = checked(folder, plugins, "--json").data
    assert all("repeats" not in stage for stage in data["stages"])
    assert not (folder / "store" / "repeats.json").exists()
