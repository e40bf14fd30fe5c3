"""Two mixes of an album, one with settings, goals and a limit of its own: what came out, measured from outside."""

from __future__ import annotations

import csv
import json
import shutil
from pathlib import Path

import pytest
from whole_runs import Ran, chain_file, mix, outside_lufs, sweeper

pytestmark = pytest.mark.long

CHAIN = """
title: own mixes
mixes:
  - opener.wav
  - file: ballad.wav
    settings: {tone.gain db: -3 dB, glue.bypass: on, limiter.output trim: -1 dB}
    reach: {loudness: -17 LUFS, true peak: at most -3 dBTP}
    limits: [crest >= 9 dB]
inserts:
  - {name: tone, plugin: "builtin:Gain"}
  - {name: glue, plugin: "builtin:Compressor", settings: {ratio: 2, threshold db: -24 dB}}
output:
  - {name: limiter, plugin: "builtin:BrickwallLimiter", drive: raise input trim, ceiling: ceiling db}
vary: {glue.attack ms: [5 ms, 40 ms]}
reach:
  - {loudness: -13 LUFS, by: limiter.drive}
  - {true peak: at most -1 dBTP, by: limiter.ceiling}
limits: [crest >= 3 dB, mono loss <= 2 LU]
prefer: [crest.loud highest]
"""


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Ran]:
    folder = tmp_path_factory.mktemp("own")
    mix(folder / "opener.wav", 4.0)
    mix(folder / "ballad.wav", 4.0, seed=2)
    done = sweeper("run", chain_file(folder, CHAIN), "--json", cwd=folder)
    assert done.code == 0, done.err
    return folder / done.data["run"], done


def stages(run: Path, id: str):
    return {one["name"]: one for one in json.loads((run / "variants" / id / "recall.json").read_text())["stages"]}


def test_each_mix_came_out_as_it_was_asked_for(ran):
    run, done = ran
    by_id = {one["id"]: one for one in done.data["variants"]}
    assert {id: one["mix"] for id, one in by_id.items()} == {
        "001": "opener.wav", "002": "opener.wav", "003": "ballad.wav"}, "what is bypassed is not varied"  # fmt: skip
    for id, lufs, dbtp in (("001", -13.0, -1.0), ("002", -13.0, -1.0), ("003", -17.0, -3.0)):
        # pyloudnorm reads some hundredths off what BS.1770's own filters give.
        assert outside_lufs(run / "variants" / id / "render.wav") == pytest.approx(lufs, abs=0.15)
        assert [one["goal"] for one in by_id[id]["reach"]] == [lufs, dbtp]
        assert dbtp - 0.1 <= by_id[id]["measurements"]["true_peak_dbtp"] <= dbtp
    assert [[limit["limit"] for limit in by_id[id]["limits"]] for id in ("001", "003")] == [
        ["crest >= 3 dB", "mono loss <= 2 LU"], ["crest >= 9 dB", "mono loss <= 2 LU"]]  # fmt: skip
    said = ("ballad.wav has of its own: tone.gain db -3 dB, glue.bypass on, limiter.output trim -1 dB; "
            "loudness -17 LUFS, true peak at most -3 dBTP; crest >= 9 dB")  # fmt: skip
    assert said in done.data["warnings"]


def test_the_sheets_and_the_table_have_what_each_mix_had(ran):
    run, _ = ran
    opener, ballad = stages(run, "001"), stages(run, "003")
    assert [(one["tone"]["settings"], one["glue"]["bypass"], one["limiter"]["output_trim_db"]) for one in (
        opener, ballad)] == [([], False, 0.0), (ballad["tone"]["settings"], True, -1.0)]  # fmt: skip
    assert [(one["name"], one["asked"]) for one in ballad["tone"]["settings"]] == [("gain db", "-3 dB")]
    rows = {row["variant"]: row for row in csv.DictReader((run / "table.csv").open())}
    told = ("tone.gain db", "glue.bypass", "limiter.output trim", "glue.attack ms", "limit crest >= 3 dB",
            "limit crest >= 9 dB")  # fmt: skip
    standing = next(one["text"] for one in opener["tone"]["standing"] if one["name"] == "gain db")
    assert float(standing.split()[0]) == float(rows["001"]["tone.gain db"].split()[0])
    assert [rows["001"][name] for name in told[1:]] == ["off", "0 dB", "5 ms", "met", ""]
    assert [rows["003"][name] for name in told[:5]] == ["-3 dB", "on", "-1 dB", "", ""]
    assert rows["003"][told[5]] in ("met", "broken")


def test_it_is_gone_on_with_and_recalled_as_it_was(ran, tmp_path):
    first, _ = ran
    run = tmp_path / "again"
    shutil.copytree(first, run)
    table = (run / "table.csv").read_bytes()
    shutil.rmtree(run / "variants" / "003")
    again = sweeper("run", run, cwd=first.parents[1])
    assert again.code == 0, again.err
    assert (run / "table.csv").read_bytes() == table
    recalled = sweeper("recall", run / "variants" / "003" / "recall.json", "--json", cwd=first.parents[1])
    assert recalled.code == 0, recalled.err
    assert recalled.data["verdict"] == "identical"


def test_a_print_that_is_solved_again_has_the_mixs_own_goal_and_limits(ran):
    run, _ = ran
    done = sweeper("print", run, "003", "--to", "disc", "--over", "solve", "--ceiling", "-4 dBTP", "--json",
                   cwd=run.parents[1])  # fmt: skip
    (written,) = (run / "prints").glob("003-solved-*.chain.yaml")
    text = written.read_text()
    assert '"loudness": "-17 LUFS"' in text and '"true peak": "at most -4.01 dBTP"' in text
    assert 'limits: ["crest >= 9 dB", "mono loss <= 2 LU"]' in text
    assert done.code == 0, done.err
