"""What stages do to the music: named in a chain file it is solved for and judged, and told of the best."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
from whole_runs import chain_file, mix, sweeper

CHAIN = """
title: inside
mix: mix.wav
inserts:
  - {name: colour, plugin: Probe Shaper, settings: {Second: 0.2}}
output:
  - {name: clipper, plugin: "builtin:Clipping", drive: raise input trim, settings: {threshold db: -6 dB}}
vary: {colour.Second: [0.1, 0.3], colour.bypass: [on, off]}
"""
FIVE_MORE = ["attenuation_db", "attenuation_median_db", "attenuation_most_db", "attenuation_share_pct", "residue_db"]


@pytest.fixture
def place(tmp_path: Path, probes) -> tuple[Path, Path]:
    mix(tmp_path / "mix.wav", 4.0)
    return tmp_path, probes["shaper"].parent


def run(place, text: str, *arguments: str):
    folder, plugins = place
    ran = sweeper("run", chain_file(folder, CHAIN + text), *arguments, cwd=folder, plugins=plugins)
    assert ran.code == 0, ran.err
    return ran


@pytest.mark.long
def test_a_drive_is_solved_for_the_residue_of_its_own_stage_and_stops_before_harm(place):
    """A clipper leaves more over the harder it is driven; the colour before it does not count."""
    ran = run(place, "reach: [{clipper.residue: -30 dB, within: 0.5 dB, by: clipper.drive}]\n", "--json")
    for row in ran.data["variants"]:
        assert row["reach"][0]["ending"] == "on target"
        assert abs(row["measurements"]["clipper.residue_db"] + 30) <= 0.5
    stop = "reach: [{loudness: -3 LUFS, by: clipper.drive, stop at: [clipper.residue <= -35 dB]}]\n"
    for row in run(place, stop, "--json").data["variants"]:
        assert row["reach"][0]["ending"] == "stopped at" or row["reach"][0]["why"], row["reach"]
        assert row["measurements"]["clipper.residue_db"] == pytest.approx(-35.05, abs=0.06)


def test_limits_and_preferences_go_by_what_a_stage_does(place):
    ran = run(place, "limits: [colour.distortion <= 1.2 %]\nprefer: [residue lowest]\n", "--json")
    rows = ran.data["variants"]
    assert [row["rank"] for row in rows] == [1, 2, None], "a stage that is not heard breaks no limit"
    by_setting = {row["settings"].get("colour.Second", "off"): row for row in rows}
    colours = [by_setting[second]["measurements"]["colour.distortion_pct"] for second in ("0.1", "0.3")]
    assert colours[1] == pytest.approx(3 * colours[0], rel=0.02), "x + k x^2: H2 grows as k"
    off = by_setting["off"]["measurements"]
    assert off["colour.distortion_pct"] is None and off["reasons"]["colour.distortion_pct"] == "it is bypassed"
    assert by_setting["0.3"]["limits"][0]["met"] is False
    assert off["residue_db"] < by_setting["0.1"]["measurements"]["residue_db"]


@pytest.mark.long
def test_the_best_are_looked_into_and_it_is_kept(place):
    ran = run(place, "reach: [{loudness: -12 LUFS, by: clipper.drive}]\nprefer: [loudness range highest]\n")
    folder, plugins = place
    assert "inside, on the loudest minute" in ran.out and "H2 dB" in ran.out
    (results,) = (folder / "results").iterdir()
    written = json.loads((results / "run.json").read_text())
    row = written["answer"]["variants"][0]
    assert row["looked_into"] and {f"clipper.{key}" for key in FIVE_MORE} | {*FIVE_MORE} <= row["measurements"].keys()
    first = results / "variants" / row["id"] / "inside.json"
    before = first.read_bytes()
    first.write_bytes(before.replace(b'"from_s": 0.0', b'"from_s": 1.0'))
    again = sweeper("run", results, "--json", cwd=folder, plugins=plugins)
    assert again.code == 0 and b'"from_s": 1.0' in first.read_bytes(), "what was found is read, not looked for again"
    assert again.data["variants"][0]["measurements"] == row["measurements"]
    listed = sweeper("shortlist", results, "--json", "--limit", "Clipper.residue <= -10 dB",
                     cwd=folder, plugins=plugins)  # fmt: skip
    assert listed.code == 0 and listed.data["variants"][0]["limits"][0]["met"] is not None
    unknown = sweeper("shortlist", results, "--prefer", "clipp.residue lowest", cwd=folder, plugins=plugins)
    assert unknown.code == 5 and "no variant of this run was looked into for 'clipp.residue'" in unknown.err
    sheet = results / "variants" / row["id"] / "recall.json"
    assert sweeper("recall", sheet, "--json", cwd=folder, plugins=plugins).data["identical"] is True
    (seen,) = sweeper("inside", sheet, "--stage", "clipper", "--json", cwd=folder, plugins=plugins).data["seen"]
    assert row["measurements"]["clipper.residue_db"] == pytest.approx(seen["music"]["residue_db"], abs=1e-6) != 0


@pytest.mark.long
def test_any_variant_is_looked_into_by_its_sheet_with_a_tone_of_ones_own(place):
    ran = run(place, "reach: [{loudness: -12 LUFS, by: clipper.drive}]\nlimits: [clipper.residue <= 0 dB]\n", "--json")
    folder, plugins = place
    row = next(row for row in ran.data["variants"] if row["settings"].get("colour.Second") == "0.3")
    render = folder / ran.data["run"] / row["files"]["render"]
    how = {"cwd": folder, "plugins": plugins}
    seen = {one["name"]: one for one in sweeper("inside", render, "--json", **how).data["seen"]}
    assert list(seen) == ["", "colour", "clipper"]
    assert seen["clipper"]["music"]["residue_db"] == pytest.approx(row["measurements"]["clipper.residue_db"], abs=0.01)
    level = ["--stage", "Colour", "--tone", "-9.03 dBFS", "--at", "100 Hz"]
    (one,) = sweeper("inside", render, *level, "--json", **how).data["seen"]
    assert one["tone"]["tone_hz"] == 101
    assert one["tone"]["dbc"][0] == pytest.approx(20 * math.log10(0.15 * 0.5), abs=0.02), "x + 0.3 x^2 of a half"
    told = sweeper("inside", render, *level, **how)
    assert told.code == 0 and "colour" in told.out and "101 Hz at -9.0 dBFS" in told.out
    before = sorted(path for path in (folder / "results").rglob("*"))
    wrong = sweeper("inside", render, "--stage", "tape", **how)
    assert wrong.code == 3 and "no stage called 'tape' is heard" in wrong.err and "colour, clipper" in wrong.err
    assert sweeper("inside", render, "--tone", "loud", **how).code == 2
    high = sweeper("inside", render, "--at", "15 kHz", **how)
    assert high.code == 3 and "up to 11025 Hz" in high.err
    assert sorted(path for path in (folder / "results").rglob("*")) == before, "nothing is written"
