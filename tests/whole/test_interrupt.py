"""Ctrl-C, and disks and folders that refuse: what was finished is kept, and the message says what to do."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import psutil
from whole_runs import chain_file, mix, sweeper

SLOW = """
title: slow
mixes: [mix.wav]
inserts: [{name: slow, plugin: Probe Slow}]
output: [{name: g, plugin: "builtin:Gain"}]
vary: {g.gain db: [-1 dB, -2 dB, -3 dB, -4 dB, -5 dB, -6 dB]}
"""


def test_ctrl_c_says_what_was_kept_and_leaves_nothing_running(tmp_path, plugins):
    mix(tmp_path / "mix.wav", 2.0)
    chain = chain_file(tmp_path, SLOW)
    process = subprocess.Popen(
        [sys.executable, "-c", "from sweeper.cli.main import main; main()", "run", str(chain), "--workers", "1"],
        cwd=tmp_path, stderr=subprocess.PIPE, text=True, start_new_session=True,
        env={**os.environ, "SWEEPER_PLUGIN_PATH": str(plugins)},
    )  # fmt: skip
    deadline = time.monotonic() + 60
    while not list(tmp_path.glob("results/*/variants/*/render.wav")):
        assert time.monotonic() < deadline
        time.sleep(0.05)
    children = psutil.Process(process.pid).children(recursive=True)
    process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=20)
    assert process.returncode == 130
    assert "of 6 variants are finished and kept in results/" in said
    (folder,) = (tmp_path / "results").iterdir()
    kept = json.loads((folder / "run.json").read_text())
    done = [row["id"] for row in kept["rows"] if row["status"] == "done"]
    assert kept["state"] == "interrupted"
    assert done
    assert f"{len(done)} of 6" in said
    for id in done:
        assert (folder / "variants" / id / "render.wav").is_file()
    assert (folder / "table.csv").read_text().count("\n") == len(kept["rows"]) + 1
    psutil.wait_procs(children, timeout=5)
    assert not [child for child in children if child.is_running() and child.status() != psutil.STATUS_ZOMBIE]
    assert not list(folder.glob("variants/*/.*")), "nothing half-written"


def test_an_unwritable_results_folder_is_said(tmp_path):
    mix(tmp_path / "mix.wav", 1.0)
    chain = chain_file(tmp_path, "mix: mix.wav\ninserts: [{name: g, plugin: 'builtin:Gain'}]\n")
    (tmp_path / "taken").write_text("a file, not a folder")
    ran = sweeper("run", chain, "--results", tmp_path / "taken" / "in", cwd=tmp_path)
    assert ran.code == 5
    assert "cannot make a run folder" in ran.err
    assert "--results" in ran.err
    assert (tmp_path / "taken").read_text() == "a file, not a folder"


def test_copies_that_cannot_be_written_leave_renders_and_table(tmp_path):
    mix(tmp_path / "mix.wav", 1.0)
    chain_file(tmp_path, "title: t\nmix: mix.wav\ninserts: [{name: g, plugin: 'builtin:Gain'}]\n")
    code = (
        "import sweeper.pipeline as p\n"
        "p.write_copies = lambda copies, pool: ('001/matched.wav could not be written: the disk is full',)\n"
        "from sweeper.cli.main import exit_code; raise SystemExit(exit_code(['run', 'test.chain.yaml']))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert (done.returncode, "the disk is full" in done.stdout) == (5, True)
    (folder,) = (tmp_path / "results").iterdir()
    assert "001,mix.wav,done" in (folder / "table.csv").read_text()
    assert (folder / "variants" / "001" / "render.wav").is_file()


def test_start_never_writes_over_a_file(tmp_path):
    mix(tmp_path / "mix.wav", 1.0)
    first = sweeper("start", "mix.wav", cwd=tmp_path)
    assert first.code == 0, first.err
    text = Path(tmp_path / "mix.chain.yaml").read_text()
    again = sweeper("start", "mix.wav", cwd=tmp_path)
    assert again.code == 5
    assert "mix.chain.yaml is there already" in again.err
    assert Path(tmp_path / "mix.chain.yaml").read_text() == text


def test_what_start_writes_runs(tmp_path):
    mix(tmp_path / "one.wav", 4.0)
    mix(tmp_path / "two.wav", 3.0, seed=2)
    assert sweeper("start", "one.wav", "two.wav", "--to", "album.yaml", cwd=tmp_path).code == 0
    ran = sweeper("run", "album.yaml", "--json", cwd=tmp_path)
    assert ran.code == 0, ran.err
    assert [v["mix"] for v in ran.data["variants"]] == ["one.wav", "two.wav"]
    assert all(abs(v["measurements"]["loudness_lufs"] + 14) <= 0.1 for v in ran.data["variants"])
