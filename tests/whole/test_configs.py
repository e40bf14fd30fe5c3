"""The chain files that users start from run as they stand, on a mix called mix.wav beside them."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import soundfile
from whole_runs import sweeper

CONFIGS = sorted((Path(__file__).parents[2] / "configs").glob("*.yaml"))


@pytest.fixture(scope="module")
def chorus(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Ten seconds of the demo's last chorus, as mix.wav."""
    folder = tmp_path_factory.mktemp("chorus")
    demo = Path(__file__).parents[2] / "demo" / "make_mix.py"
    subprocess.run([sys.executable, str(demo), str(folder / "whole.wav")], check=True, capture_output=True)
    data, rate_hz = soundfile.read(folder / "whole.wav", start=60 * 48000, frames=10 * 48000)
    soundfile.write(folder / "mix.wav", data, rate_hz, subtype="PCM_24")
    return folder / "mix.wav"


@pytest.mark.parametrize("config", CONFIGS, ids=lambda path: path.name)
def test_a_config_runs_and_every_variant_is_on_target_or_says_why(tmp_path, config, chorus):
    shutil.copy(config, tmp_path)
    shutil.copy(chorus, tmp_path)
    ran = sweeper("run", config.name, "--json", cwd=tmp_path)
    assert ran.code == 0, ran.err
    for variant in ran.data["variants"]:
        assert variant["status"] == "done"
        assert all(reach["ending"] in ("on target", "stopped as asked") for reach in variant["reach"])
        assert all(limit["met"] for limit in variant["limits"])


def test_there_is_one_for_each_use():
    assert {config.name for config in CONFIGS} == {
        "limiter-drive.chain.yaml", "saturation-grid.chain.yaml", "kept-log.chain.yaml", "past-master.chain.yaml"
    }  # fmt: skip
