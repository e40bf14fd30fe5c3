"""The demo's chain on the demo's mix, and (long) the README's first command as written, in a fresh copy."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from whole_runs import outside_lufs, sweeper

ROOT = Path(__file__).parents[2]


def demo_folder(folder: Path, seed: int) -> Path:
    """The demo's chain file beside a mix of that seed."""
    folder.mkdir()
    shutil.copy(ROOT / "demo" / "chain.yaml", folder)
    maker = [sys.executable, str(ROOT / "demo" / "make_mix.py"), str(folder / "tin-boats.wav"), "--seed", str(seed)]
    subprocess.run(maker, check=True, capture_output=True)
    return folder


def test_the_demo_gives_six_variants_at_minus_ten_inside_their_limits(tmp_path):
    folder = demo_folder(tmp_path / "demo", 1911)
    ran = sweeper("run", "chain.yaml", "--json", cwd=folder, timeout_s=400)
    assert ran.code == 0, ran.err
    assert len(ran.data["variants"]) == 6
    for variant in ran.data["variants"]:
        assert outside_lufs(folder / ran.data["run"] / variant["files"]["render"]) == pytest.approx(-10, abs=0.11)
        assert all(limit["met"] for limit in variant["limits"])


@pytest.mark.long
def test_another_seed_changes_every_number(tmp_path):
    mixes = [demo_folder(tmp_path / str(seed), seed) / "tin-boats.wav" for seed in (1, 2)]
    ran = sweeper("measure", *mixes, "--json", cwd=tmp_path)
    one, two = (file["measurements"] for file in ran.data["files"])
    fixed = ("overs", "over_runs", "longest_over_ms", "sample_peak_dbfs")  # none, and -6 dBFS, whatever the seed
    assert [key for key in one if key not in fixed and one[key] == two[key]] == []


@pytest.mark.long
def test_the_readmes_first_command_works_in_a_fresh_copy(tmp_path):
    subprocess.run(["git", "clone", "-q", str(ROOT), str(tmp_path / "clone")], check=True)
    done = subprocess.run(["python3", "demo/run.py"], cwd=tmp_path / "clone", capture_output=True, text=True,
                          timeout=600, check=False)  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert re.search(r"files: results/\S+tin-boats", done.stdout)
    (run,) = (path for path in (tmp_path / "clone" / "results").iterdir() if path.is_dir())
    assert len(list(run.glob("variants/*/matched.wav"))) == 6
