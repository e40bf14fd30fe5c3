"""Plugins that take their process down, hang it, or end it: one failed row each, everything else goes on."""

from __future__ import annotations

import json

import pytest
from whole_runs import chain_file, mix, sweeper

CHAIN = """
mixes: [mix.wav]
inserts:
  - {{name: good, plugin: "builtin:Gain", settings: {{gain db: -1 dB}}}}
  - {{name: bad, plugin: {plugin}}}
vary: {{bad.bypass: [on, off], good.gain db: [-1 dB, -2 dB]}}
"""


@pytest.mark.long  # the fault matrix meets them all in one run
@pytest.mark.parametrize(
    ("plugin", "cause"),
    [
        ("Probe Segfault Process", "crashed with a segmentation fault"),
        ("Probe Abort Process", "SIGABRT"),
        ("Probe Exit0 Process", "exit code 0"),
        ("Probe Hang Process", "no sign of life"),
        ("Probe Nan Process", "gave nan instead of a sample"),
    ],
)
def test_a_fault_while_rendering_is_one_failed_row(tmp_path, plugins, plugin, cause):
    mix(tmp_path / "mix.wav", 2.0)
    chain = chain_file(tmp_path, CHAIN.format(plugin=plugin))
    ran = sweeper("run", chain, "--json", "--patience", 3, cwd=tmp_path, plugins=plugins)
    assert ran.code == 4
    status = [(v["id"], v["status"]) for v in ran.data["variants"]]
    assert status == [("001", "done"), ("002", "done"), ("003", "failed"), ("004", "failed")]
    for variant in ran.data["variants"][2:]:
        assert cause in variant["cause"]
        assert f"'bad' ({plugin})" in variant["cause"]
        assert "0:00" in variant["cause"]
        assert variant["measurements"] is None
    for variant in ran.data["variants"][:2]:
        assert (tmp_path / ran.data["run"] / variant["files"]["matched"]).is_file()
    left = [p.name for p in (tmp_path / ran.data["run"] / "variants" / "003").iterdir()]
    assert left == [], "nothing half-written"


@pytest.mark.parametrize("plugin", ["Probe Segfault Load", "Probe Hang Load", "Probe Exit0 Load"])
def test_a_fault_while_loading_is_told_at_the_stage_before_anything_is_rendered(tmp_path, plugins, plugin):
    mix(tmp_path / "mix.wav", 2.0)
    chain = chain_file(tmp_path, CHAIN.format(plugin=plugin))
    ran = sweeper("run", chain, "--patience", 3, cwd=tmp_path, plugins=plugins)
    assert ran.code == 3
    assert "test.chain.yaml:5:25: stage 'bad'" in ran.err.replace(str(tmp_path) + "/", "")
    assert not (tmp_path / "results").exists()


def test_what_a_plugin_prints_is_in_the_log_and_nowhere_else(tmp_path, plugins):
    mix(tmp_path / "mix.wav", 1.0)
    chain = chain_file(tmp_path, "mixes: [mix.wav]\ninserts: [{name: talks, plugin: Probe Chatter Process}]\n")
    ran = sweeper("run", chain, "--json", cwd=tmp_path, plugins=plugins)
    assert ran.code == 0, ran.err
    log = [json.loads(line) for line in (tmp_path / ran.data["run"] / "log.jsonl").read_text().splitlines()]
    said = [event for event in log if event["event"] == "said"]
    assert said
    assert any(event["event"] == "dropped" for event in log), "an endless talker is cut"
    assert len(said) < 5000


def test_the_parent_never_loads_the_plugin_library():
    import subprocess
    import sys

    code = (
        "import sys, sweeper.pipeline, sweeper.cli.main, sweeper.cli.run, sweeper.cli.plugins, sweeper.cli.check, "
        "sweeper.cli.show_run, sweeper.cli.show_plugins; print('pedalboard' in sys.modules)"
    )
    printed = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert printed.strip() == "False"
