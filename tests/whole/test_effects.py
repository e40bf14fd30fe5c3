"""What settings of a real sweep did, as a user asks for it."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from whole_runs import Ran, chain_file, mix, sweeper

SWEEP = """
title: Tin Boats
mix: mix.wav
inserts:
  - {name: glue, plugin: "builtin:Compressor", settings: {ratio: 6, attack ms: 1 ms, release ms: 60 ms}}
output: [{name: limiter, plugin: "builtin:BrickwallLimiter", drive: raise input trim}]
vary:
  glue.threshold db: [-24 dB, -10 dB]
  limiter.release ms: [20 ms, 60 ms, 200 ms]
reach: [{loudness: -18 LUFS, by: limiter.drive}]
"""


@pytest.fixture(scope="module")
def swept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    folder = tmp_path_factory.mktemp("effects")
    mix(folder / "mix.wav", 4.0)
    ran = sweeper("run", chain_file(folder, SWEEP), "--json", cwd=folder)
    assert ran.code == 0, ran.err
    return folder, ran.data["run"]


def told(ran: Ran, measurement: str, setting: str) -> dict:
    found = next(one for one in ran.data["measurements"] if one["name"] == measurement)
    return next(one for one in found["effects"] if one["setting"] == setting)


def test_a_lower_threshold_takes_crest_and_asks_for_drive(swept):
    # What a compressor with a short attack does: common practice, no source
    folder, run = swept
    before = {path: path.stat().st_mtime_ns for path in folder.rglob("*")}
    ran = sweeper("effects", run, "--json", cwd=folder)
    assert (ran.code, ran.err) == (0, "")
    crest, drive = (told(ran, name, "glue.threshold db")["change"] for name in ("crest", "limiter.drive"))
    assert (crest["from"], crest["to"]) == ("-24 dB", "-10 dB")
    assert crest["difference"] > 1.0
    assert crest["difference"] > crest["half_width_95"]
    assert drive["difference"] < -1.0
    assert told(ran, "crest", "glue.threshold db")["importance"]["share"] > 0.8
    assert {path: path.stat().st_mtime_ns for path in folder.rglob("*")} == before


@pytest.mark.long
def test_it_is_shown_and_drawn_once_and_the_same_every_time(swept):
    folder, run = swept
    shown = sweeper("effects", run, "--plot", "effects.svg", cwd=folder)
    assert (shown.code, shown.err) == (0, "")
    assert "Tin Boats: what 2 settings did in 6 variants" in shown.out
    assert "crest: most by glue.threshold db, +" in shown.out
    assert "effects.svg is drawn" in shown.out
    first = (folder / "effects.svg").read_bytes()
    assert ET.fromstring(first).tag.endswith("svg")
    again = sweeper("effects", run, "--plot", "effects.svg", cwd=folder)
    assert again.code == 2
    assert "effects.svg is there already" in again.err
    assert (folder / "effects.svg").read_bytes() == first
    other = sweeper("effects", run, "--plot", "other.svg", "--json", cwd=folder)
    assert other.data["picture"] == "other.svg"
    assert (folder / "other.svg").read_bytes() == first


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["--measure", "crst"], 2, "--measure: nothing measured is called 'crst'\n    did you mean 'crest'?"),
        (["--measure", "limiter.residue"], 5, "no variant has a value of 'limiter.residue'"),
        (["--plot", "a.png"], 2, "pictures are SVG"),
    ],
)  # fmt: skip
def test_what_cannot_be_told_is_refused(swept, arguments, code, words):
    folder, run = swept
    ran = sweeper("effects", run, *arguments, cwd=folder)
    assert (ran.code, ran.out) == (code, "")
    assert words in ran.err


def test_what_is_no_run_is_said(swept):
    ran = sweeper("effects", "nowhere", cwd=swept[0])
    assert (ran.code, "nowhere is not there" in ran.err) == (5, True)
