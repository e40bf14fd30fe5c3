"""The main job end to end: a chain file and a mix in, masters on target, measured and level-matched out."""

from __future__ import annotations

import csv
import hashlib
import json
from pathlib import Path

import numpy as np
import pytest
import soundfile
from plugin_builder import build, read_witness
from whole_runs import Ran, chain_file, mix, outside_lufs, samples, sweeper

SWEEP = """
title: Sweep test
mixes: [{file: mix.wav, sections: {first half: "0:00-0:04", last half: "0:04-0:08"}}]
inserts:
  - {name: colour, plugin: "builtin:Distortion", settings: {drive db: 1 dB}, output trim: -1 dB}
output:
  - name: limiter
    plugin: "builtin:BrickwallLimiter"
    drive: raise input trim
    settings: {ceiling db: -1.2 dB, true peak: on}
vary:
  colour.drive db: [1 dB, 6 dB]
  limiter.release ms: [20 ms, 200 ms]
reach: [{loudness: -12 LUFS, within: 0.1 LU, by: limiter.drive}]
limits: [true peak <= -0.8 dBTP]
prefer: [crest highest]
audition: {match over: [last half]}
"""


@pytest.fixture(scope="module")
def swept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Ran]:
    folder = tmp_path_factory.mktemp("sweep")
    mix(folder / "mix.wav", 8.0)
    return folder, sweeper("run", chain_file(folder, SWEEP), "--json", cwd=folder)


def renders(folder: Path, ran: Ran, kind: str) -> list[Path]:
    return [folder / ran.data["run"] / variant["files"][kind] for variant in ran.data["variants"]]


def test_every_combination_is_a_variant_in_the_files_order_ranked_by_preference(swept):
    _, ran = swept
    assert ran.code == 0, ran.err
    by_id = {v["id"]: v["settings"] for v in ran.data["variants"]}
    combinations = [(by_id[i]["colour.drive db"], by_id[i]["limiter.release ms"]) for i in sorted(by_id)]
    assert combinations == [("1 dB", "20 ms"), ("1 dB", "200 ms"), ("6 dB", "20 ms"), ("6 dB", "200 ms")]
    crests = [v["measurements"]["crest_db"] for v in ran.data["variants"]]
    assert crests == sorted(crests, reverse=True)
    assert [v["rank"] for v in ran.data["variants"]] == [1, 2, 3, 4]


def test_renders_are_on_target_by_an_outside_meter(swept):
    folder, ran = swept
    for path in renders(folder, ran, "render"):
        assert outside_lufs(path) == pytest.approx(-12, abs=0.11)


def test_matched_files_are_equally_loud_over_the_named_section_by_an_outside_meter(swept, tmp_path):
    folder, ran = swept
    levels = []
    for path in renders(folder, ran, "matched"):
        data, rate_hz = soundfile.read(path, always_2d=True)
        soundfile.write(tmp_path / "half.wav", data[4 * rate_hz :], rate_hz, subtype="FLOAT")
        levels.append(outside_lufs(tmp_path / "half.wav"))
    assert max(levels) - min(levels) < 0.02
    mix_gain = ran.data["mixes"][0]["match_gain_db"]
    assert mix_gain == pytest.approx(0, abs=1e-9), "the mix is the quietest, so it sets the level"


def test_a_matched_file_is_its_render_times_the_gain_in_the_table(swept):
    folder, ran = swept
    for variant, render, matched in zip(
        ran.data["variants"], renders(folder, ran, "render"), renders(folder, ran, "matched"), strict=True
    ):
        gain = 10 ** (variant["match_gain_db"] / 20)
        assert np.abs(samples(matched) - samples(render) * np.float32(gain)).max() < 1e-7


def test_renders_keep_length_rate_and_float_format(swept):
    folder, ran = swept
    for path in renders(folder, ran, "render"):
        info = soundfile.info(path)
        assert (info.frames, info.samplerate, info.channels, info.subtype) == (8 * 44100, 44100, 2, "FLOAT")


def test_the_csv_holds_the_same_numbers_units_in_the_headings(swept):
    folder, ran = swept
    rows = list(csv.DictReader((folder / ran.data["run"] / "table.csv").open()))
    assert [row["variant"] for row in rows] == [v["id"] for v in ran.data["variants"]]
    for row, variant in zip(rows, ran.data["variants"], strict=True):
        assert float(row["loudness_lufs"]) == pytest.approx(variant["measurements"]["loudness_lufs"], abs=1e-4)
        section = variant["measurements"]["sections"]["last half"]
        assert float(row["loudness_lufs [last half]"]) == pytest.approx(section["loudness_lufs"], abs=1e-4)
        assert row["limit true peak <= -0.8 dBTP"] == "met"


def test_the_recall_sheet_leads_back_from_the_file_alone(swept):
    from sweeper.audio import read_tag

    folder, ran = swept
    for variant, path in zip(ran.data["variants"], renders(folder, ran, "render"), strict=True):
        sheet = json.loads((folder / ran.data["run"] / variant["files"]["recall"]).read_text())
        tag = read_tag(path)
        assert tag is not None
        assert tag.reference == sheet["id"]
        assert tag.loudness_lufs == pytest.approx(variant["measurements"]["loudness_lufs"], abs=0.006)
        interleaved = np.ascontiguousarray(samples(path).T).tobytes()
        assert sheet["audio_sha256"] == hashlib.sha256(interleaved).hexdigest()
        assert [stage["plugin"] for stage in sheet["stages"]] == ["Distortion", "BrickwallLimiter"]
        settings = {s["name"]: s["text"] for s in sheet["stages"][0]["settings"]}
        assert f"{float(settings['drive db']):g} dB" == variant["settings"]["colour.drive db"]
        assert sheet["stages"][1]["input_trim_db"] == pytest.approx(variant["reach"][0]["at"])


def test_nothing_private_is_in_the_file(swept):
    folder, ran = swept
    head = renders(folder, ran, "render")[0].read_bytes()[:1000]
    for private in (b"Distortion", b"limiter", str(folder).encode(), b"mix.wav"):
        assert private not in head


def test_run_json_keeps_the_chain_file_to_the_letter(swept):
    folder, ran = swept
    kept = json.loads((folder / ran.data["run"] / "run.json").read_text())
    assert kept["chain"] == (folder / "test.chain.yaml").read_text()
    assert kept["state"] == "finished"


@pytest.mark.long
def test_a_second_run_never_touches_the_first(tmp_path):
    mix(tmp_path / "mix.wav", 1.0)
    chain = chain_file(tmp_path, "mixes: [mix.wav]\ninserts: [{name: eq, plugin: 'builtin:HighpassFilter'}]\n")
    first, second = (sweeper("run", chain, "--json", cwd=tmp_path).data["run"] for _ in range(2))
    assert first != second
    assert second.endswith("-2")


@pytest.mark.long
def test_the_same_answer_with_one_two_and_three_workers(tmp_path):
    mix(tmp_path / "mix.wav", 3.0)
    chain = chain_file(tmp_path, SWEEP.replace('"0:00-0:04"', '"0:00-0:01"').replace('"0:04-0:08"', '"0:01-0:03"'))
    runs = [sweeper("run", chain, "--workers", n, "--json", cwd=tmp_path).data["run"] for n in (1, 2, 3)]
    tables = [(tmp_path / run / "table.csv").read_bytes() for run in runs]
    assert tables[0] == tables[1] == tables[2]


@pytest.mark.long
def test_rows_stand_in_the_files_order_whoever_is_done_first(tmp_path, plugins):
    mix(tmp_path / "mix.wav", 3.0)
    chain = chain_file(tmp_path, """
mix: mix.wav
inserts: [{name: slow, plugin: Probe Slow}]
vary: {slow.bypass: [off, on]}
""")
    ran = sweeper("run", chain, "--workers", 2, "--json", cwd=tmp_path, plugins=plugins)
    run = tmp_path / ran.data["run"]
    log = [json.loads(line) for line in (run / "log.jsonl").read_text().splitlines()]
    assert [event["variant"] for event in log if event["event"] == "row"] == ["002", "001"], "as they came in"
    assert [v["id"] for v in ran.data["variants"]] == ["001", "002"]
    assert [row["variant"] for row in csv.DictReader((run / "table.csv").open())] == ["001", "002"]


def test_a_gain_drawn_at_test_time_is_in_the_table(tmp_path):
    drawn_db = round(float(np.random.default_rng().uniform(-20, -1)), 3)
    build("gain", tmp_path, title="Drawn Gain", GAIN_DB=drawn_db)
    mix(tmp_path / "mix.wav", 3.0)
    chain = chain_file(tmp_path, "mixes: [mix.wav]\ninserts: [{name: g, plugin: Drawn Gain}]\n")
    ran = sweeper("run", chain, "--json", cwd=tmp_path, plugins=tmp_path)
    before = ran.data["mixes"][0]["measurements"]
    after = ran.data["variants"][0]["measurements"]
    for key in ("loudness_lufs", "true_peak_dbtp", "rms_dbfs"):
        assert after[key] - before[key] == pytest.approx(drawn_db, abs=0.01)


def test_passes_of_a_reach_are_what_the_witness_behind_it_saw(tmp_path, plugins):
    mix(tmp_path / "mix.wav", 3.0)
    chain = chain_file(tmp_path, """
mixes: [mix.wav]
output:
  - {name: limiter, plugin: "builtin:BrickwallLimiter", drive: raise input trim}
  - {name: seen, plugin: Probe Witness}
vary: {limiter.release ms: [20 ms, 100 ms, 500 ms]}
reach: [{loudness: -12 LUFS, by: limiter.drive}]
""")
    sweeper("check", chain, cwd=tmp_path, plugins=plugins)  # tries the speed of plugins that it does not know
    ran = sweeper("run", chain, "--json", cwd=tmp_path, plugins=plugins, SWEEPER_WITNESS=str(tmp_path / "seen.txt"))
    work = ran.data["work"]
    padded = -(-3 * 44100 // 1024) * 1024
    frames: dict[tuple[int, int], int] = {}
    for line in read_witness(tmp_path / "seen.txt"):
        if line.event == "run":
            frames[(line.pid, line.instance)] = frames.get((line.pid, line.instance), 0) + line.frames
    renders_seen = sum(count // padded for count in frames.values())
    assert work["passes"] == renders_seen == sum(v["passes"] for v in ran.data["variants"])
    assert work["steps_done"] == 2 * renders_seen, "no two variants share a step"
