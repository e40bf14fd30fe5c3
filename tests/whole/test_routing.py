"""Buses, blend, rides and stages outside, from the chain file to the table and back from the sheet."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile
from plugin_builder import build
from whole_runs import chain_file, mix, sweeper

ROUTED = """
title: routed
mix: {file: mix.wav, sections: {middle: "0:02-0:03"}}
inserts:
  - {name: shape, plugin: ZamEQ2, channels: mid/side, settings: {mid: {Boost/Cut 1: -1 dB}}}
  - {name: colour, plugin: ZamTube, channels: left/right, drive: raise Tube Drive, blend: 60 %}
buses:
  - {name: lift, level: -12 dB, inserts: [{name: lift-comp, plugin: ZamCompX2, settings: {Threshold: -30 dB}}]}
output:
  - {name: limiter, plugin: ZaMaximX2, drive: lower Threshold}
rides:
  - {name: warmer, set: colour.drive, by: 5 % travel, in: [middle], ramp: 200 ms}
  - {name: more, set: lift.level, by: 3 dB, in: ["0:03.5-0:04"], ramp: 100 ms}
vary:
  lift.level: [-12 dB, -6 dB]
  rides.warmer.by: [0 % travel, 5 % travel]
reach:
  - {loudness: -16 LUFS, by: limiter.drive}
"""


@pytest.fixture
def place(tmp_path: Path) -> Path:
    mix(tmp_path / "mix.wav", 6.0)
    return tmp_path


def answer(ran):
    assert ran.code == 0, ran.err
    return ran.data


def sheet_of(place: Path, run: str, variant: str) -> dict:
    return json.loads((place / run / "variants" / variant / "recall.json").read_text())


def hashes(place: Path, run: str) -> list[str]:
    return [json.loads(p.read_text())["audio_sha256"] for p in sorted((place / run).glob("variants/*/recall.json"))]


@pytest.mark.long
def test_a_routed_chain_is_swept_solved_recalled_and_written_as_a_chain_again(place):
    store = {"SWEEPER_STORE": str(place / "store")}
    ran = answer(sweeper("run", chain_file(place, ROUTED), "--json", cwd=place, **store))
    rows = ran["variants"]
    assert len(rows) == 4 and all(row["status"] == "done" for row in rows)
    assert all(abs(row["measurements"]["loudness_lufs"] + 16) <= 0.1 for row in rows)
    assert len({*hashes(place, ran["run"])}) == 4
    varied = [(row["settings"]["lift.level"], row["settings"]["rides.warmer.by"]) for row in rows]
    assert varied[3] == ("-6 dB", "5 % travel")
    sheet = sheet_of(place, ran["run"], "004")
    rides = {ride["name"]: ride for stage in sheet["stages"] for ride in stage["rides"]}
    assert rides["warmer"]["spans_s"] == [[2.0, 3.0]] and rides["more"]["moves"] == 3.0
    elsewhere = {"SWEEPER_STORE": str(place / "store2")}
    recalled = sweeper("recall", Path(ran["run"]) / "variants/004/recall.json", "--json", cwd=place, **elsewhere)
    assert answer(recalled)["identical"] is True
    back = place / "back.yaml"
    sheet_file = Path(ran["run"]) / "variants/004/recall.json"
    written = sweeper("recall", sheet_file, "--as-chain", "--to", back, cwd=place)
    assert written.code == 0, written.err
    again = answer(sweeper("run", back, "--json", cwd=place, **elsewhere))
    assert hashes(place, again["run"]) == [sheet["audio_sha256"]]


@pytest.mark.long
def test_one_worker_or_two_and_the_store_make_no_difference(place):
    text = chain_file(place, ROUTED)
    one = answer(sweeper("run", text, "--json", "--workers", 1, "--store-limit", 0, cwd=place))
    two = answer(sweeper("run", text, "--json", "--workers", 2, cwd=place, SWEEPER_STORE=str(place / "store")))
    assert hashes(place, one["run"]) == hashes(place, two["run"])


@pytest.mark.long
def test_a_rides_amount_is_solved_like_a_setting_and_counted_as_the_chain_file_does(place):
    """On a drive that lowers a threshold more is more: the amount found comes out positive, and louder."""
    text = """
title: solved ride
mix: {file: mix.wav, sections: {middle: "0:01-0:05"}}
output: [{name: limiter, plugin: ZaMaximX2, settings: {Threshold: -3 dB}, drive: lower Threshold}]
rides: [{name: up, set: limiter.drive, by: 1 dB, in: [middle]}]
"""
    plain = answer(sweeper("run", chain_file(place, text), "--json", cwd=place))["variants"][0]
    goal = round(plain["measurements"]["loudness_lufs"] + 3, 1)
    solving = chain_file(place, f"{text}reach: [{{loudness: {goal} LUFS, by: rides.up.by}}]\n", "solving.chain.yaml")
    (row,) = answer(sweeper("run", solving, "--json", cwd=place))["variants"]
    (reach,) = row["reach"]
    assert (reach["setting"], reach["ending"]) == ("rides.up.by", "on target")
    assert 2 < reach["at"] < 8
    assert abs(row["measurements"]["loudness_lufs"] - goal) <= 0.1


@pytest.mark.long
def test_bypassing_a_bus_leaves_all_of_it_out_and_what_is_varied_on_it_is_one_variant(place):
    text = ROUTED[: ROUTED.index("rides:")] + (
        "vary:\n  lift.bypass: [on, off]\n  lift-comp.Threshold: [-30 dB, -20 dB]\n")  # fmt: skip
    rows = answer(sweeper("run", chain_file(place, text), "--json", cwd=place))["variants"]
    assert [row["settings"] for row in rows] == [
        {"lift.bypass": "on"},
        {"lift.bypass": "off", "lift-comp.Threshold": "-30 dB"},
        {"lift.bypass": "off", "lift-comp.Threshold": "-20 dB"},
    ]


OUTSIDE = """
title: sent
mix: mix.wav
inserts:
  - {name: before, plugin: ZamTube, channels: left/right}
  - {name: tape, outside: the tape machine, returned: returns}
  - {name: after, plugin: Probe Gain}
vary:
  before.Tube Drive: [1, 5]
  after.input trim: [0 dB, -3 dB]
"""


@pytest.fixture
def sent(place: Path, tmp_path_factory: pytest.TempPathFactory):
    (place / "returns").mkdir()
    plugins = tmp_path_factory.mktemp("gain")
    build("gain", plugins, GAIN_DB=-2.0)
    ran = sweeper("run", chain_file(place, OUTSIDE), "--json", cwd=place, plugins=plugins)
    return place, plugins, ran


def came_back(place: Path, make=lambda samples: samples, into="returns", name=" back"):
    """What each file sent out has become on the way: half as loud, 777 frames late."""
    folder = next((place / "results").glob("*/outside"))
    for file in sorted(folder.glob("tape-*.wav")):
        if " back" in file.name:
            continue
        samples, rate_hz = soundfile.read(file, dtype="float32")
        made = make(np.concatenate([np.zeros((777, 2), np.float32), 0.5 * samples]))
        soundfile.write((place / into / f"{file.stem}{name}.wav"), made, rate_hz, subtype="FLOAT")
    return folder.parent


def test_a_run_stops_at_an_outside_stage_and_goes_on_with_what_comes_back(sent):
    place, plugins, ran = sent
    assert ran.code == 7
    assert "2 files wait" in ran.data["error"]["what"] and "the tape machine" in ran.data["error"]["what"]
    folder = came_back(place)
    for file in [*(place / "returns").iterdir(), *folder.glob("outside/tape-*.wav")]:
        file.with_name(f"{file.name}.peaks").write_bytes(b"")  # editors leave such things beside what they play
    rows = answer(sweeper("run", folder, "--json", cwd=place, plugins=plugins))["variants"]
    assert [row["status"] for row in rows] == ["done"] * 4
    source = {}
    for file in folder.glob("outside/tape-*.wav"):
        source[file.stem] = soundfile.read(file, dtype="float32")[0]
    for row in rows:
        made, _ = soundfile.read(folder / row["files"]["render"], dtype="float32")
        gain_db = -2.0 + (-3.0 if row["settings"]["after.input trim"] == "-3 dB" else 0.0)
        wanted = [np.abs(made - samples * 0.5 * 10 ** (gain_db / 20)).max() for samples in source.values()]
        assert min(wanted) < 1e-6  # in time to the sample, at the level that came back
    sheet = sheet_of(place, folder, "001")
    (returned,) = sheet["stages"][1]["returned"]
    assert round(returned["offset_frames"]) == 777 and returned["inverted"] is False
    recalled = answer(sweeper("recall", folder / "variants/003/recall.json", "--json", cwd=place, plugins=plugins))
    assert recalled["identical"] is True


@pytest.mark.long
def test_until_all_has_come_back_the_run_waits_and_names_what_is_missing(sent):
    place, plugins, _ = sent
    folder = came_back(place)
    first = sorted((place / "returns").iterdir())[0]
    first.unlink()
    ran = sweeper("run", folder, cwd=place, plugins=plugins)
    assert ran.code == 7 and first.name.replace(" back", "") in ran.err and "one file waits" in ran.err


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda s: 0.1 * np.random.default_rng(1).standard_normal(s.shape).astype(np.float32), "not like what was"),
        (lambda s: s[: len(s) // 2], "before the music does"),
        (lambda s: s[:, :1], "channel"),
    ],
    ids=["another-music", "cut-short", "mono"],
)  # fmt: skip
@pytest.mark.long
def test_what_cannot_be_what_was_sent_is_refused_in_words(sent, make, words):
    place, plugins, _ = sent
    folder = came_back(place, make)
    ran = sweeper("run", folder, cwd=place, plugins=plugins)
    assert ran.code == 3 and words in ran.err


@pytest.mark.long
def test_turned_polarity_is_noted_and_two_takes_are_asked_about(sent):
    place, plugins, _ = sent
    folder = came_back(place, lambda s: -s)
    rows = answer(sweeper("run", folder, "--json", cwd=place, plugins=plugins))["variants"]
    assert any("polarity" in note for note in rows[0]["notes"])
    again = sweeper("run", place / "test.chain.yaml", cwd=place, plugins=plugins)
    assert again.code == 0, again.err  # what came back is found by its name, in the folder that the chain file names
    came_back(place, name=" second take")
    third = sweeper("run", place / "test.chain.yaml", cwd=place, plugins=plugins)
    assert third.code == 3 and "more than one has come back" in third.err


EIGHT_STAGES = """
title: eight stages
mix: {file: song.wav, sections: {build: "0:03-0:05", last: "0:07-0:10"}}
inserts:
  - {name: clean-up, plugin: ZamEQ2, channels: mid/side,
     settings: {mid: {Boost/Cut 1: -1 dB}, side: {Boost/Cut H: 1 dB}}}
  - {name: sibilance, plugin: ZamDynamicEQ, channels: mid}
  - {name: colour, plugin: ZamTube, channels: left/right, drive: raise Tube Drive, blend: 60 %, polarity: inverted}
  - {name: glue, plugin: ZamCompX2, settings: {Threshold: -24 dB, Ratio: 1.5}}
buses:
  - {name: lift, level: -14 dB, inserts: [{name: lift-comp, plugin: ZaMultiCompX2}, {name: lift-eq, plugin: ZamEQ2,
      channels: left/right}]}
output:
  - {name: tape, plugin: ZamHeadX2}
  - {name: limiter, plugin: ZaMaximX2, drive: lower Threshold, ceiling: Output Ceiling}
rides:
  - {name: last-drive, set: colour.drive, by: 5 % travel, in: [last], ramp: 300 ms}
  - {name: last-level, set: lift.level, by: 2 dB, in: [build, last], ramp: 300 ms}
vary:
  glue.Threshold: [-24 dB, -18 dB]
reach:
  - {loudness: -14 LUFS, by: limiter.drive}
  - {true peak: at most -1 dBTP, by: limiter.ceiling}
"""


@pytest.mark.long
def test_eight_stages_of_real_plugins_with_everything_on_real_music_come_back_identical(place, music):
    """A bus, a mid/side stage, a blend and two rides; the track is one of Debian's drascula-music."""
    samples, rate_hz = soundfile.read(music["track5"], frames=44100 * 32, dtype="float32")
    soundfile.write(place / "song.wav", samples[rate_hz * 20 :], rate_hz, subtype="PCM_24")
    ran = answer(sweeper("run", chain_file(place, EIGHT_STAGES), "--json", cwd=place, timeout_s=300))
    for row in ran["variants"]:
        assert row["status"] == "done" and len(sheet_of(place, ran["run"], row["id"])["stages"]) == 9
        loudness, true_peak = (row["measurements"][key] for key in ("loudness_lufs", "true_peak_dbtp"))
        assert [one["ending"] for one in row["reach"]] == ["on target", "on target"], row["reach"]
        assert abs(loudness + 14) <= 0.1 and -1.1 <= true_peak <= -1.0
    sheet = Path(ran["run"]) / "variants/002/recall.json"
    recalled = answer(sweeper("recall", sheet, "--json", cwd=place, SWEEPER_STORE=str(place / "empty")))
    assert recalled["identical"] is True
