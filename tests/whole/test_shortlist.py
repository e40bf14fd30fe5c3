"""A finished run ranked again by a user, and read in Python."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from whole_runs import Ran, chain_file, mix, sweeper

SWEEP = """
title: Tin Boats
mix: mix.wav
inserts: [{name: colour, plugin: "builtin:Distortion"}]
output: [{name: trim, plugin: "builtin:Gain"}]
vary: {colour.drive db: [0 dB, 6 dB, 12 dB]}
limits: [loudness <= 0 LUFS]
prefer: [crest highest]
"""


@pytest.fixture(scope="module")
def swept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Ran]:
    folder = tmp_path_factory.mktemp("shortlist")
    mix(folder / "mix.wav", 4.0)
    ran = sweeper("run", chain_file(folder, SWEEP), "--json", cwd=folder)
    assert ran.code == 0, ran.err
    return folder, ran


def crests(ran: Ran) -> dict[str, float]:
    return {one["id"]: one["measurements"]["crest_db"] for one in ran.data["variants"]}


def test_without_options_it_is_the_run_again_and_nothing_is_written(swept):
    folder, ran = swept
    before = {path: path.stat().st_mtime_ns for path in folder.rglob("*")}
    again = sweeper("shortlist", ran.data["run"], "--json", cwd=folder)
    assert (again.code, again.err) == (0, "")
    for key in ("variants", "run"):
        assert again.data[key] == ran.data[key]
    assert {path: path.stat().st_mtime_ns for path in folder.rglob("*")} == before


def test_other_limits_and_preferences_give_other_ranks(swept):
    folder, ran = swept
    low, middle, high = sorted(crests(ran).values())
    limit = f"crest <= {(middle + high) / 2:.2f} dB"
    found = sweeper("shortlist", ran.data["run"], "--limit", limit, "--prefer", "crest lowest", "--keep", 1, "--json",
                    cwd=folder).data  # fmt: skip
    by_id = crests(ran)
    assert [by_id[one["id"]] for one in found["variants"]] == [low, middle, high]
    assert [one["rank"] for one in found["variants"]] == [1, 2, None]
    assert [by_id[id] for id in found["picked"]] == [low]
    assert found["variants"][2]["limits"] == [
        {"limit": limit, "measurement": "crest_db", "met": False, "unit": "dB", "reason": None,
         "margin": pytest.approx(float(limit.split()[2]) - high)}
    ]  # fmt: skip


def test_it_is_shown_and_ends_with_1_when_nothing_fits(swept):
    folder, ran = swept
    shown = sweeper("shortlist", ran.data["run"], "--keep", 2, cwd=folder)
    assert shown.code == 0, shown.err
    assert shown.out.count("matched.wav") == 2
    assert "ranked by crest highest" in shown.out
    nothing = sweeper("shortlist", ran.data["run"], "--limit", "crest >= 90 dB", cwd=folder)
    assert nothing.code == 1
    assert "0 of 3 on target and inside every limit (crest >= 90 dB)" in nothing.out


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["--limit", "crst >= 8 dB"], 2, "--limit: no measurement is called 'crst'\n    did you mean 'crest'?"),
        (["--prefer", "crest"], 2, "--prefer: 'crest' does not say what ranks first"),
        (["--keep", "0"], 2, "--keep"),
    ],
)  # fmt: skip
def test_wrong_options_are_answered(swept, arguments, code, words):
    folder, ran = swept
    answered = sweeper("shortlist", ran.data["run"], *arguments, cwd=folder)
    assert answered.code == code
    assert words in answered.err
    assert answered.out == ""


@pytest.mark.parametrize(("place", "words"), [("gone", "gone is not there"), (".", "is no run's folder")])
def test_what_is_no_run_is_answered(swept, place, words):
    folder, _ = swept
    answered = sweeper("shortlist", place, cwd=folder)
    assert answered.code == 5
    assert words in answered.err


def test_keep_needs_something_that_ranks(tmp_path):
    mix(tmp_path / "mix.wav", 1.0)
    ran = sweeper("run", chain_file(tmp_path, "mix: mix.wav\ninserts: [{plugin: 'builtin:Gain'}]\n"), "--json",
                  cwd=tmp_path)  # fmt: skip
    answered = sweeper("shortlist", ran.data["run"], "--keep", 1, cwd=tmp_path)
    assert answered.code == 2
    assert "nothing is preferred" in answered.err
    assert sweeper("shortlist", ran.data["run"], "--keep", 1, "--prefer", "crest highest", cwd=tmp_path).code == 0


def test_the_run_is_a_frame_in_python(swept):
    folder, ran = swept
    code = (
        "import json, sys, sweeper; table = sweeper.load_run(sys.argv[1]);"
        "print(json.dumps([table['crest_db'].to_dict(), table['colour.drive db'].to_dict(), table.attrs['title'],"
        " table['limit loudness <= 0 LUFS'].unique().tolist(), len(table.attrs['mixes'])]))"
    )
    done = subprocess.run([sys.executable, "-W", "error", "-c", code, ran.data["run"]], cwd=folder, capture_output=True,
                          text=True, check=True)  # fmt: skip
    crest, drive, title, verdicts, mixes = json.loads(done.stdout)
    assert crest == pytest.approx(crests(ran), abs=5e-5)
    assert sorted(drive.values()) == ["0 dB", "12 dB", "6 dB"]
    assert (title, verdicts, mixes) == ("Tin Boats", ["met"], 1)
