"""The chain files that users start from run as they stand, on the mixes that they name beside them."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import soundfile
from whole_runs import mix, sweeper

from sweeper.chain import load_chain

CONFIGS = sorted((Path(__file__).parents[2] / "configs").glob("*.yaml"))
#: Asks for more than there is: what stops a variant is the floor, or the limiter, as the file says.
BEYOND = "loudest-with-punch.chain.yaml"
TURNED = "driven harder it comes out lower again"


@pytest.fixture(scope="module")
def mixes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Ten seconds of the demo's last chorus, as mix.wav and dense.wav, and of its first verse, as sparse.wav."""
    folder, whole = tmp_path_factory.mktemp("mixes"), tmp_path_factory.mktemp("whole") / "whole.wav"
    demo = Path(__file__).parents[2] / "demo" / "make_mix.py"
    subprocess.run([sys.executable, str(demo), str(whole)], check=True, capture_output=True)
    for name, start_s in (("mix", 60), ("dense", 60), ("sparse", 0)):
        data, rate_hz = soundfile.read(whole, start=start_s * 48000, frames=10 * 48000)
        soundfile.write(folder / f"{name}.wav", data, rate_hz, subtype="PCM_24")
    return folder


@pytest.mark.parametrize("config", CONFIGS, ids=lambda path: path.name)
def test_a_config_loads(tmp_path, config):
    shutil.copy(config, tmp_path)
    for name in ("mix", "dense", "sparse"):
        mix(tmp_path / f"{name}.wav", 1.0)
    assert load_chain(tmp_path / config.name).title


@pytest.mark.long
@pytest.mark.parametrize("config", CONFIGS, ids=lambda path: path.name)
def test_a_config_runs_and_every_variant_is_on_target_or_says_why(tmp_path, config, mixes):
    shutil.copy(config, tmp_path)
    shutil.copytree(mixes, tmp_path, dirs_exist_ok=True)
    ran = sweeper("run", config.name, "--json", cwd=tmp_path)
    assert ran.code == 0, ran.err
    for variant in ran.data["variants"]:
        assert variant["status"] == "done"
        assert all(_as_asked(reach, config.name == BEYOND) for reach in variant["reach"])
        assert all(limit["met"] for limit in variant["limits"])


def _as_asked(reach: dict[str, object], beyond: bool) -> bool:
    farthest = beyond and reach["ending"] == "as far as it goes" and reach["why"] == TURNED
    return farthest or reach["ending"] in ("on target", "stopped as asked")


def test_there_is_one_for_each_use():
    assert {config.name for config in CONFIGS} == {
        "limiter-drive.chain.yaml", "saturation-grid.chain.yaml", "kept-log.chain.yaml", "past-master.chain.yaml",
        "loudest-with-punch.chain.yaml", "dense-and-sparse.chain.yaml",
    }  # fmt: skip
