"""What each stage contributes, by the command, against renders made by other means and a witness in the chain."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import psutil
import pytest
import soundfile
from plugin_builder import build
from scipy.signal import butter, sosfilt
from whole_runs import Ran, chain_file, mix, outside_lufs, renders_seen, sweeper

SECONDS, RATE_HZ, GAIN_DB, CUT_HZ = 4.0, 44100, 4.0, 300.0
CHAIN = f"""
title: parts
mix: mix.wav
inserts:
  - {{name: louder, plugin: "builtin:Gain", settings: {{gain db: {GAIN_DB} dB}}}}
  - {{name: thinner, plugin: "builtin:HighpassFilter", settings: {{cutoff frequency hz: {CUT_HZ} Hz}}}}
output:
  - {{name: limiter, plugin: "builtin:BrickwallLimiter", drive: raise input trim, settings: {{ceiling db: -1 dB}}}}
vary: {{limiter.release ms: [50 ms, 200 ms]}}
"""
REACH = "reach: [{loudness: -12 LUFS, within: 0.01 LU, by: limiter.drive}]\n"


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("parts")
    mix(folder / "mix.wav", SECONDS, RATE_HZ)
    (folder / "tmp").mkdir()
    return folder


@pytest.fixture(scope="module")
def told(place: Path) -> Ran:
    ran = sweeper("contributions", chain_file(place, CHAIN + REACH), "--json", cwd=place, TMPDIR=str(place / "tmp"))
    assert ran.code == 0, ran.err
    return ran


def of(parts: list[dict[str, Any]], name: str | None) -> dict[str, Any]:
    return next(part for part in parts if part["stage"] == name)


def test_a_pure_gain_changes_nothing_at_equal_loudness(told):
    louder = of(told.data["behind"], "louder")
    assert louder["gain_db"] == pytest.approx(GAIN_DB, abs=0.001)
    assert all(value is None or abs(value) < 0.001 for value in louder["changes"].values()), louder["changes"]


def test_without_a_pure_gain_the_drive_makes_up_for_it_and_nothing_else_changes(told):
    louder = of(told.data["without"], "louder")
    (drive,) = louder["solved"]
    assert drive["setting"] == "limiter.input trim"
    assert drive["moved"] == pytest.approx(GAIN_DB, abs=0.04), "0.01 LU either way, through a limiter"
    assert all(value is None or abs(value) < 0.05 for value in louder["changes"].values()), louder["changes"]


def test_a_high_pass_tilts_where_it_stands_and_in_the_whole(told):
    """A first-order high-pass at 300 Hz takes 6 dB an octave below it; pink noise has a tilt of 0."""
    for parts in (told.data["behind"], told.data["without"]):
        thinner = of(parts, "thinner")
        assert thinner["changes"]["tilt_db"] > 0.2
        thirds = {third["hz"]: third["difference_db"] for third in thinner["thirds_db"]}
        assert thirds[63] - thirds[125] == pytest.approx(-5.4, abs=1.0)
    assert of(told.data["without"], "thinner")["solved"][0]["moved"] < 0, "it takes loudness, which the drive gave back"


def test_loudness_after_each_stage_is_that_of_the_same_chain_made_elsewhere(told, place):
    """Gain by numpy, the high-pass by scipy (a first-order Butterworth), loudness by pyloudnorm; the end by `run`."""
    sound, rate_hz = soundfile.read(place / "mix.wav", always_2d=True)
    louder = sound * 10 ** (GAIN_DB / 20)
    thinner = sosfilt(butter(1, CUT_HZ, "highpass", fs=rate_hz, output="sos"), louder, axis=0)
    for name, samples in ((None, sound), ("louder", louder), ("thinner", thinner)):
        soundfile.write(place / "elsewhere.wav", samples, rate_hz, subtype="FLOAT")
        own = of(told.data["behind"], name)["measurements"]["loudness_lufs"]
        assert own == pytest.approx(outside_lufs(place / "elsewhere.wav"), abs=0.02), name
    ran = sweeper("run", chain_file(place, CHAIN + REACH), "--json", cwd=place).data
    row = ran["variants"][0]
    assert row["id"] == told.data["variant"] == "001"
    end = of(told.data["behind"], "limiter")["measurements"]
    assert end == told.data["full"]["measurements"]
    assert end["loudness_lufs"] == pytest.approx(outside_lufs(place / ran["run"] / row["files"]["render"]), abs=0.02)
    assert {key: row["measurements"][key] for key in end} == end, "the same variant as `run` made"


def test_what_a_reach_turns_cannot_be_solved_away_and_is_matched_by_gain(told):
    limiter = of(told.data["without"], "limiter")
    assert limiter["dropped"] == ["loudness_lufs"] and limiter["solved"] == []
    assert limiter["changes"] == of(told.data["behind"], "limiter")["changes"], "nothing stands behind it"
    assert limiter["changes"]["crest_db"] < -1 and limiter["gain_db"] > 1


def test_nothing_is_left_and_no_run_is_made(told, place):
    assert list((place / "tmp").iterdir()) == []
    assert not (place / "results" / "parts").exists()


@pytest.mark.long
def test_behind_what_is_solved_the_sound_is_that_of_the_last_pass(tmp_path):
    """The gain is solved, and two stages follow: what stands behind each comes from one render."""
    mix(tmp_path / "mix.wav", 2.0)
    text = CHAIN.split("vary:")[0] + \
        "reach: [{loudness: -16 LUFS, within: 0.01 LU, by: louder.gain db}]\n"
    data = sweeper("contributions", chain_file(tmp_path, text), "--json", cwd=tmp_path).data
    stands = {part["stage"]: part["measurements"]["loudness_lufs"] for part in data["behind"]}
    assert stands["limiter"] == pytest.approx(-16, abs=0.01)
    assert stands["louder"] - stands[None] == pytest.approx(data["full"]["reach"][0]["at"], abs=0.001)
    sound, rate_hz = soundfile.read(tmp_path / "mix.wav", always_2d=True)
    made = sound * 10 ** (data["full"]["reach"][0]["at"] / 20)
    made = sosfilt(butter(1, CUT_HZ, "highpass", fs=rate_hz, output="sos"), made, axis=0)
    soundfile.write(tmp_path / "elsewhere.wav", made, rate_hz, subtype="FLOAT")
    assert stands["thinner"] == pytest.approx(outside_lufs(tmp_path / "elsewhere.wav"), abs=0.02)


@pytest.mark.long
def test_the_words_and_a_variant_that_is_none(place):
    chain = chain_file(place, CHAIN + REACH)
    ran = sweeper("contributions", chain, "--variant", "002", cwd=place)
    assert ran.code == 0 and ran.out.startswith("variant 002 (limiter.release ms 200 ms) of mix.wav")
    assert "without limiter: nothing solves loudness" in ran.out
    wrong = sweeper("contributions", chain, "--variant", "3", cwd=place)
    assert wrong.code == 3 and "there is no variant 3\n    it asks for 001 to 002" in wrong.err


@pytest.mark.long
def test_what_ends_the_full_chain_is_an_error_that_leaves_nothing(place, plugins):
    text = CHAIN.replace('"builtin:Gain", settings: {gain db: 4.0 dB}', "Probe Segfault Process")
    ran = sweeper("contributions", chain_file(place, text), cwd=place, plugins=plugins, TMPDIR=str(place / "tmp"))
    assert ran.code == 4 and "SIGSEGV" in ran.err, ran.err
    assert list((place / "tmp").iterdir()) == []


@pytest.mark.long
def test_nothing_is_rendered_twice(tmp_path):
    """Three stages that count as slow: six steps, as two witnesses saw, where each chain alone would take ten."""
    plugins, store, witness = tmp_path / "plugins", tmp_path / "store", tmp_path / "witness"
    build("witness", plugins)
    build("witness", plugins, title="Probe Witness Two")
    mix(tmp_path / "mix.wav", 2.0, RATE_HZ)
    chain = chain_file(tmp_path, "mix: mix.wav\ninserts: [{name: seen, plugin: Probe Witness}, {name: mid, plugin: "
                                 "'builtin:Gain'}]\noutput: [{name: last, plugin: Probe Witness Two}]\n")  # fmt: skip

    def ran(*options: object) -> dict[str, Any]:
        done = sweeper("contributions", chain, "--json", *options, cwd=tmp_path, plugins=plugins,
                       SWEEPER_STORE=str(store), SWEEPER_WITNESS=str(witness))  # fmt: skip
        assert done.code == 0, done.err
        return done.data

    alone = ran("--store-limit", "0")
    store.mkdir(exist_ok=True)
    ran()
    figures = json.loads((store / "figures.json").read_text())
    slow = {name: 1.0 for name in figures if not name.startswith(("pass", "store"))}
    (store / "figures.json").write_text(json.dumps(figures | slow))
    for entry in store.glob("??/*"):
        entry.unlink()
    witness.unlink()
    shared = ran()
    assert (shared["work"]["steps_done"], shared["work"]["steps_unshared"]) == (6, 10)
    assert alone["work"]["steps_done"] == 10
    assert renders_seen(witness, 2 * RATE_HZ) == 1 + 3, "the first once, the last behind three different sounds"
    assert [shared[key] for key in ("behind", "without")] == [alone[key] for key in ("behind", "without")]


@pytest.mark.long
def test_ctrl_c_leaves_nothing(tmp_path, plugins):
    (tmp_path / "tmp").mkdir()
    mix(tmp_path / "mix.wav", 4.0)
    chain = chain_file(tmp_path, "mix: mix.wav\ninserts: [{name: slow, plugin: Probe Slow}]\n"
                                 "output: [{name: g, plugin: 'builtin:Gain'}]\n")  # fmt: skip
    process = subprocess.Popen(
        [sys.executable, "-c", "from sweeper.cli.main import main; main()", "contributions", str(chain)],
        cwd=tmp_path, stderr=subprocess.PIPE, text=True, start_new_session=True,
        env={**os.environ, "SWEEPER_PLUGIN_PATH": str(plugins), "TMPDIR": str(tmp_path / "tmp")},
    )  # fmt: skip
    deadline = time.monotonic() + 60
    while not list((tmp_path / "tmp").glob("*/*/variants/*/.*")):
        assert time.monotonic() < deadline
        time.sleep(0.02)
    children = psutil.Process(process.pid).children(recursive=True)
    process.send_signal(signal.SIGINT)
    process.communicate(timeout=20)
    assert process.returncode == 130
    psutil.wait_procs(children, timeout=5)
    assert not [child for child in children if child.is_running() and child.status() != psutil.STATUS_ZOMBIE]
    assert list((tmp_path / "tmp").iterdir()) == []
    assert sorted(path.name for path in tmp_path.iterdir()) == ["mix.wav", "test.chain.yaml", "tmp"]
