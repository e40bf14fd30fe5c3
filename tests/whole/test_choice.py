"""`audition: {keep: N}` as a user runs it: different choices, their nulls checked by numpy, who sounds alike."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from whole_runs import Ran, chain_file, mix, samples, sweeper

SWEEP = """
title: Twins
mix: mix.wav
inserts:
  - {name: colour, plugin: "builtin:Distortion"}
  - {name: gate, plugin: "builtin:NoiseGate", settings: {threshold db: -100 dB}}
vary:
  colour.drive db: [3 dB, 3.05 dB, 9 dB, 15 dB]
  gate.threshold db: [-100 dB, -99 dB]
prefer: [crest highest]
audition: {keep: 3}
"""
KEEP_ALL = """
mix: mix.wav
inserts: [{name: colour, plugin: "builtin:Distortion"}]
vary: {colour.drive db: [3 dB, 3.05 dB, 9 dB, 15 dB]}
prefer: [crest highest]
"""


@pytest.fixture(scope="module")
def swept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Ran]:
    folder = tmp_path_factory.mktemp("choice")
    mix(folder / "mix.wav", 1.5)
    ran = sweeper("run", chain_file(folder, SWEEP), "--json", cwd=folder, SWEEPER_STORE=str(folder / "store"))
    assert ran.code == 0, ran.err
    return folder, ran


def settings(ran: Ran, key: str = "colour.drive db") -> dict[str, str]:
    return {one["id"]: one["settings"][key] for one in ran.data["variants"]}


def test_three_different_ones_are_kept_and_the_twins_passed_over_with_why(swept):
    folder, ran = swept
    choice, drive = ran.data["choice"], settings(ran)
    assert sorted(drive[id] for id in choice["picked"]) == ["15 dB", "3 dB", "9 dB"]
    assert {one["id"] for one in ran.data["variants"] if one["kept"]} == set(choice["picked"])
    why = {one["id"]: one["why"] for one in ran.data["variants"]}
    assert why[choice["picked"][0]] == "the highest crest of all"
    assert all("colour.drive db" in why[id] for id in choice["picked"][1:])
    assert any("near-duplicate of" in (words or "") and "(null -" in words for words in why.values())
    there = {path.parent.name for path in (folder / ran.data["run"]).glob("variants/*/render.wav")}
    assert there == set(choice["picked"])
    rows = {row["variant"]: row for row in csv.DictReader((folder / ran.data["run"] / "table.csv").open())}
    assert {id: row["why kept"] or None for id, row in rows.items()} == why


def test_identical_renders_are_listed_as_not_to_be_heard_apart(swept):
    _, ran = swept
    drive = settings(ran)
    groups = {tuple(one["variants"]): one["why"] for one in ran.data["choice"]["not_to_be_heard_apart"]}
    twins = [tuple(sorted(id for id in drive if drive[id] == value)) for value in set(drive.values())]
    assert sorted(groups) == sorted(twins)
    assert set(groups.values()) == {"identical, sample for sample"}


@pytest.mark.long
def test_a_run_that_goes_on_knows_what_it_compared_and_keeps_the_same(swept):
    folder, ran = swept
    log = folder / ran.data["run"] / "log.jsonl"
    before = log.read_text().count('"event": "compared"')
    again = sweeper("run", ran.data["run"], "--json", cwd=folder, SWEEPER_STORE=str(folder / "store"))
    assert again.code == 0, again.err
    assert again.data["choice"] == ran.data["choice"]
    assert log.read_text().count('"event": "compared"') == before


def test_the_shortlist_remembers_what_was_compared_and_says_what_cannot_be(swept):
    folder, ran = swept
    other = sweeper("shortlist", ran.data["run"], "--keep", 4, "--prefer", "crest lowest", cwd=folder)
    assert other.code == 0, other.err
    assert "picked: the lowest crest of all" in other.out
    assert "note: there were only 3 different choices: " in other.out
    assert "not compared" not in other.out, "the run had compared them"
    assert "near-duplicates: settings within 10 % of each control's way" in other.out


@pytest.mark.long
def test_the_null_of_two_renders_is_what_numpy_makes_of_their_matched_files(tmp_path):
    mix(tmp_path / "mix.wav", 2.0)
    ran = sweeper("run", chain_file(tmp_path, KEEP_ALL), "--json", "--workers", 1, cwd=tmp_path)
    assert ran.data["choice"]["picked"] == []
    before = {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*")}
    found = sweeper("shortlist", ran.data["run"], "--keep", 3, "--workers", 1, "--json", cwd=tmp_path).data["choice"]
    assert {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*")} == before, "it writes nothing"
    assert len(found["pairs"]) == 4, "the near pair, and those picked with each other"
    for pair in found["pairs"]:
        one, other = (samples(tmp_path / ran.data["run"] / "variants" / id / "matched.wav").astype(float)
                      for id in pair["variants"])  # fmt: skip
        level = np.sqrt((np.mean(one**2) + np.mean(other**2)) / 2)
        assert pair["null_db"] == pytest.approx(20 * np.log10(np.sqrt(np.mean((one - other) ** 2)) / level), abs=0.01)
    (near,) = [pair for pair in found["pairs"] if pair["near"]]
    assert sorted(settings(ran)[id] for id in near["variants"]) == ["3 dB", "3.05 dB"]
    assert near["settings_distance"] == pytest.approx(0.05 / 60), "of the 60 dB of its way"
    assert "`sweeper check CHAIN --twice` before a run finds it" in found["notes"][-1]


@pytest.mark.long
def test_what_differs_less_than_two_renders_of_the_same_is_not_heard_apart(tmp_path, plugins):
    mix(tmp_path / "mix.wav", 3.0)
    chain = chain_file(tmp_path, """
mix: mix.wav
inserts: [{name: trim, plugin: "builtin:Distortion"}, {name: noisy, plugin: Probe Noise Process}]
vary: {trim.drive db: [6 dB, 6.0001 dB, 12 dB]}
prefer: [crest highest]
audition: {keep: 2}
""")
    ran = sweeper("run", chain, "--json", cwd=tmp_path, plugins=plugins, SWEEPER_STORE=str(tmp_path / "store"))
    assert ran.code == 0, ran.err
    (same,) = ran.data["choice"]["not_to_be_heard_apart"]
    assert sorted(settings(ran, "trim.drive db")[id] for id in same["variants"]) == ["6 dB", "6.0001 dB"]
    assert "two renders of one of them differ by as much (-" in same["why"]
    run = tmp_path / ran.data["run"]
    events = [json.loads(line)["event"] for line in (run / "log.jsonl").read_text().splitlines()]
    assert events.count("rendered once more") == 1
    assert not (run / "once-more").exists()
