"""A space too large to sweep, explored: the same answer for any number of workers, and after any end; more on top."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import psutil
import pytest
from whole_runs import Ran, chain_file, mix, sweeper

from sweeper.cli.main import exit_code

SECONDS = 1.5
CHAIN = """
title: explored
mix: mix.wav
inserts:
  - name: colour
    any of: [{name: dist, plugin: "builtin:Distortion"}, {name: clip, plugin: "builtin:Clipping"}]
output:
  - {name: limiter, plugin: "builtin:BrickwallLimiter", drive: raise input trim, settings: {ceiling db: -1 dB}}
vary:
  colour.drive db: {from: 0 dB, to: 12 dB}
  colour.threshold db: [-3 dB, -9 dB, -6 dB]
  limiter.release ms: {from: 5 ms, to: 500 ms, spacing: log}
  limiter.true peak: [off, on]
reach: [{loudness: -14 LUFS, by: limiter.drive}]
limits: [true peak <= -0.9 dBTP]
prefer: [crest highest]
explore: {variants: 12, seed: 3}
audition: {keep: 3}
"""


def environment(place: Path, store: str) -> dict[str, str]:
    return {"SWEEPER_STORE": str(place / store)}


def run(place: Path, what: Path | str, *options: object, store: str = "store") -> Ran:
    return sweeper("run", what, "--json", *options, cwd=place, **environment(place, store))


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("explore")
    mix(folder / "mix.wav", SECONDS)
    chain_file(folder, CHAIN)
    return folder


@pytest.fixture(scope="module")
def explored(place: Path) -> Ran:
    return run(place, "test.chain.yaml", "--workers", 2)


def table(place: Path, ran: Ran) -> bytes:
    return (place / ran.data["run"] / "table.csv").read_bytes()


def test_so_many_variants_are_rendered_and_the_best_are_kept(place, explored):
    assert explored.code == 0, explored.err
    rows = explored.data["variants"]
    assert len(rows) == 12
    assert all(abs(row["measurements"]["loudness_lufs"] + 14) <= 0.11 for row in rows if row["status"] == "done")
    assert explored.data["explored"] == {
        "method": "TPE", "why": "one preference, which it learns from few variants",
        "mixes": [{"mix": "mix.wav", "asked": 12, "variants": 12,
                   "ended": "ended after 12 variants: as many as were asked for"}],
    }  # fmt: skip
    kept = [row["id"] for row in rows if row["kept"]]
    assert kept == [id for id in (row["id"] for row in rows) if id in explored.data["choice"]["picked"]]
    assert len(kept) == 3
    folder = place / explored.data["run"] / "variants"
    assert {path.parent.name for path in folder.glob("*/render.wav")} == set(kept)
    assert len(list(folder.glob("*/recall.json"))) == 12


def test_a_setting_is_dialled_only_on_the_alternative_that_has_it(explored):
    for row in explored.data["variants"]:
        settings, is_dist = row["settings"], row["settings"]["colour"] == "dist"
        assert ("colour.drive db" in settings, "colour.threshold db" in settings) == (is_dist, not is_dist)


@pytest.mark.long
def test_the_table_is_the_same_with_one_worker_and_nothing_stored(place, explored):
    alone = run(place, "test.chain.yaml", "--workers", 1, "--store-limit", 0, store="other")
    assert table(place, alone) == table(place, explored)


@pytest.mark.long
def test_killed_in_the_middle_it_goes_on_as_if_nothing_had_been(place, explored):
    """Killed with the second batch asked for and partly rendered."""
    process = subprocess.Popen(
        [sys.executable, "-c", "from sweeper.cli.main import main; main()", "run", "test.chain.yaml", "--json",
         "--results", "killed"],
        cwd=place, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, start_new_session=True,
        env={**os.environ, **environment(place, "killed store")},
    )  # fmt: skip
    deadline = time.monotonic() + 90
    while len(sheets := list(place.glob("killed/*/variants/*/recall.json"))) < 9 and process.poll() is None:
        assert time.monotonic() < deadline
        time.sleep(0.01)
    for member in [*psutil.Process(process.pid).children(recursive=True), psutil.Process(process.pid)]:
        member.send_signal(signal.SIGKILL)
    process.communicate()
    (folder,) = (place / "killed").iterdir()
    before = {sheet: sheet.stat().st_ino for sheet in sheets}
    asked = json.loads((folder / "run.json").read_text())
    assert asked["state"] == "running"
    assert [one["batch"] for one in asked["explore"]["mixes"][0]["asked"]] == [0] * 8 + [1] * 4
    gone_on = run(place, folder, store="killed store")
    assert gone_on.code == 0, gone_on.err
    assert gone_on.data["work"]["variants"] <= 3
    assert {sheet: sheet.stat().st_ino for sheet in before} == before, "what was finished was not rendered again"
    assert table(place, gone_on) == table(place, explored)
    assert gone_on.data["explored"] == explored.data["explored"]


def copied(place: Path, ran: Ran, name: str) -> Path:
    """The folder of a run under another name."""
    return Path(shutil.copytree(place / ran.data["run"], place / "results" / name))


def test_more_variants_are_added_to_a_finished_run(place, explored):
    folder = copied(place, explored, "more")
    before = {path: path.stat().st_ino for path in folder.glob("variants/*/recall.json")}
    again = run(place, folder, "--more", 3)
    assert again.code == 0, again.err
    assert (len(again.data["variants"]), again.data["work"]["variants"]) == (15, 3)
    assert {path: path.stat().st_ino for path in before} == before
    told = {row["id"]: row["settings"] for row in again.data["variants"]}
    assert all(told[row["id"]] == row["settings"] for row in explored.data["variants"])
    asked = json.loads((folder / "run.json").read_text())["explore"]
    assert (asked["more"], asked["mixes"][0]["counted_from"]) == ([3], 12)


@pytest.mark.long
def test_it_is_said_how_it_chose_and_why_it_ended(place, explored):
    said = sweeper("run", place / explored.data["run"], cwd=place, **environment(place, "store"))
    assert said.code == 0, said.err
    assert "explored by TPE: one preference, which it learns from few variants\n" in said.out
    assert "ended after 12 variants: as many as were asked for\n" in said.out


@pytest.mark.long
def test_more_is_refused_for_a_run_that_was_stopped(place, explored):
    folder = copied(place, explored, "stopped")
    asked = json.loads((folder / "run.json").read_text())
    (folder / "run.json").write_text(json.dumps({**asked, "state": "running"}))
    refused = run(place, folder, "--more", 3)
    assert refused.code == 5
    assert "this run is not finished yet: nothing can be added to it" in refused.err


def test_more_is_for_a_run_and_not_for_a_chain_file(place, capsys):
    assert exit_code(["run", str(place / "test.chain.yaml"), "--more", "3"]) == 2
    assert "--more adds to a run that explores: name its folder" in capsys.readouterr().err


@pytest.mark.long
def test_what_a_run_takes_is_foreseen(place):
    checked = sweeper("check", "test.chain.yaml", cwd=place, **environment(place, "store"))
    assert checked.code == 0, checked.err
    assert "at most 12 variants: about " in checked.out
    assert "explored by TPE: one preference, which it learns from few variants" in checked.out
    data = sweeper("check", "test.chain.yaml", "--json", cwd=place, **environment(place, "store")).data
    assert data["variants"] == 12
    assert data["explore"] == {"method": "TPE", "why": "one preference, which it learns from few variants"}
    sound = SECONDS * 44100 * 2 * 4
    assert 16 * sound < data["results_bytes"] < 17 * sound, "the sound of all twelve, four copies, and their sheets"
