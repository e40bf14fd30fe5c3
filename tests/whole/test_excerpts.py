"""An exploration that listens to excerpts: only the best are rendered, and nothing else looks like a render."""

from __future__ import annotations

import csv
import io
import itertools
import json
import math
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import psutil
import pytest
from sounding import parts
from whole_runs import Ran, chain_file, mix, outside_lufs, sweeper

CHAIN = """
title: heard
mix: mix.wav
inserts:
  - name: glue
    any of:
      - {name: soft, plugin: "builtin:Compressor", settings: {ratio: 2}}
      - {name: hard, plugin: "builtin:Compressor", settings: {ratio: 4}}
output: {name: limiter, plugin: "builtin:BrickwallLimiter", drive: raise input trim}
vary:
  glue.threshold db: {from: -30 dB, to: -12 dB}
  glue.attack ms: {from: 1 ms, to: 60 ms, spacing: log}
reach: {loudness: -13 LUFS, within: 0.1 LU, by: limiter.drive}
limits: [mono loss <= 3 LU]
prefer: [crest.loud highest]
explore: {variants: 9, seed: 3, listen to: excerpts}
audition: {keep: 1}
"""
#: How many of the nine are rendered.
RENDERED = 6


def run(place: Path, what: Path | str, *options: object, store: str = "store") -> Ran:
    return sweeper("run", what, "--json", *options, cwd=place, SWEEPER_STORE=str(place / store))


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("excerpts")
    parts(folder / "mix.wav", 64)
    chain_file(folder, CHAIN)
    return folder


@pytest.fixture(scope="module")
def heard(place: Path) -> Ran:
    return run(place, "test.chain.yaml", "--workers", 1)


def table(place: Path, ran: Ran) -> bytes:
    return (place / ran.data["run"] / "table.csv").read_bytes()


def _sign(number: float) -> int:
    return (number > 0) - (number < 0)


def tau(pairs: list[tuple[float, float]]) -> float:
    """Kendall's tau-b, pair by pair, from its definition (Kendall 1945)."""
    signs = [(_sign(a[0] - b[0]), _sign(a[1] - b[1])) for a, b in itertools.combinations(pairs, 2)]
    return sum(one * other for one, other in signs) / math.sqrt(
        sum(one != 0 for one, _ in signs) * sum(other != 0 for _, other in signs))  # fmt: skip


@pytest.mark.long
def test_only_the_best_on_excerpts_are_rendered_and_the_others_never_look_like_it(place, heard):
    assert heard.code == 0, heard.err
    rows, folder = heard.data["variants"], place / heard.data["run"]
    assert [row["status"] for row in rows] == ["done"] * RENDERED + ["tried"] * 3
    sheets = {path.parent.name for path in folder.glob("variants/*/recall.json")}
    assert sheets == {row["id"] for row in rows[:RENDERED]}
    crests = [row["on_excerpts"]["measurements"]["crest_loud_db"] for row in rows]
    assert min(crests[:RENDERED]) >= max(crests[RENDERED:])
    assert crests[RENDERED:] == sorted(crests[RENDERED:], reverse=True)
    for row in rows[RENDERED:]:
        assert (row["measurements"], row["files"], row["rank"], row["match_gain_db"]) == (None, {}, None, None)
        assert row["on_excerpts"]["measurements"]["loudness_lufs"] == pytest.approx(-13, abs=0.1)
    for cells in csv.DictReader(io.StringIO(table(place, heard).decode())):
        assert (cells["loudness_lufs"] == "") == (cells["status"] == "tried")
        assert cells["crest_loud_db (excerpts)"]


@pytest.mark.long
def test_a_render_starts_where_its_own_try_came_to_rest_and_lands(heard):
    for row in heard.data["variants"][:RENDERED]:
        (solved,), (tried,) = row["reach"], row["on_excerpts"]["reach"]
        assert solved["ending"] == tried["ending"] == "on target"
        assert solved["at"] == pytest.approx(tried["at"], abs=0.5)
        assert row["passes"] <= 2


@pytest.mark.long
def test_how_far_both_orders_agree_is_told_as_the_rows_have_it(heard):
    pairs = [(row["on_excerpts"]["measurements"]["crest_loud_db"], row["measurements"]["crest_loud_db"])
             for row in heard.data["variants"][:RENDERED]]  # fmt: skip
    told = heard.data["explored"]["on_excerpts"]
    assert (told["tried"], told["rendered"]) == (9, RENDERED)
    (agreed,) = told["agreement"]
    assert (agreed["measurement"], agreed["variants"]) == ("crest_loud_db", RENDERED)
    assert agreed["tau"] == pytest.approx(tau(pairs))


@pytest.mark.long
def test_the_renders_land_on_target_by_an_outside_meter(tmp_path):
    """At 22,050 Hz, where the outside meter's filter bends by 0.05 LU."""
    parts(tmp_path / "mix.wav", 64, 22050)
    chain_file(tmp_path, CHAIN.replace("{keep: 1}", "{keep: 4}"))
    ran = run(tmp_path, "test.chain.yaml")
    assert ran.code == 0, ran.err
    kept = [row for row in ran.data["variants"] if row["kept"]]
    assert len(kept) == 4
    for row in kept:
        assert outside_lufs(tmp_path / ran.data["run"] / row["files"]["render"]) == pytest.approx(-13, abs=0.17)


@pytest.mark.long
def test_the_table_is_the_same_with_two_workers_and_nothing_stored(place, heard):
    other = run(place, "test.chain.yaml", "--workers", 2, "--store-limit", 0, store="other")
    assert table(place, other) == table(place, heard)


@pytest.mark.long
@pytest.mark.parametrize("there", ["excerpts/005.json", "excerpts/009.json", "variants/*/recall.json"])
def test_killed_at_any_moment_it_goes_on_as_if_nothing_had_been(place, heard, there):
    name = there.replace("/", "-").replace("*", "any")
    process = subprocess.Popen(
        [sys.executable, "-c", "from sweeper.cli.main import main; main()", "run", "test.chain.yaml", "--json",
         "--results", name],
        cwd=place, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, start_new_session=True,
        env={**os.environ, "SWEEPER_STORE": str(place / name / "store")},
    )  # fmt: skip
    deadline = time.monotonic() + 120
    while not list(place.glob(f"{name}/2*/{there}")) and process.poll() is None:
        assert time.monotonic() < deadline
        time.sleep(0.01)
    for member in [*psutil.Process(process.pid).children(recursive=True), psutil.Process(process.pid)]:
        member.send_signal(signal.SIGKILL)
    process.communicate()
    (folder,) = place.glob(f"{name}/2*")
    before = {path: path.stat().st_ino for path in folder.glob("excerpts/*.json")}
    assert before
    assert json.loads((folder / "run.json").read_text())["state"] == "running"
    gone_on = run(place, folder, store=f"{name}/store")
    assert gone_on.code == 0, gone_on.err
    assert {path: path.stat().st_ino for path in before} == before, "what was tried was not tried again"
    assert table(place, gone_on) == table(place, heard)
    assert gone_on.data["explored"] == heard.data["explored"]


@pytest.mark.long
def test_more_variants_are_tried_and_the_best_of_all_rendered(place, heard):
    folder = Path(shutil.copytree(place / heard.data["run"], place / "results" / "more"))
    before = {path: path.stat().st_ino for path in folder.glob("variants/*/recall.json")}
    again = run(place, folder, "--more", 6)
    assert again.code == 0, again.err
    rows = again.data["variants"]
    assert len(rows) == 15
    assert {path: path.stat().st_ino for path in before} == before
    best = sorted(rows, key=lambda row: -row["on_excerpts"]["measurements"]["crest_loud_db"])[:RENDERED]
    assert all(row["status"] == "done" for row in best)
    assert again.data["explored"]["on_excerpts"]["tried"] == 15


@pytest.mark.long
def test_it_is_foreseen_and_said_in_words(place, heard):
    checked = sweeper("check", "test.chain.yaml", cwd=place, SWEEPER_STORE=str(place / "store"))
    assert "at most 9 variants tried on excerpts, 44 % of the mix some 3 times each: about 0:" in checked.out
    assert "then the best 6 rendered" in checked.out
    said = sweeper("run", place / heard.data["run"], cwd=place, SWEEPER_STORE=str(place / "store"))
    assert "9 variants were tried on excerpts, the best 6 of them rendered; table.csv has all\n" in said.out
    assert "crest.loud: the order on excerpts agrees with that of the whole: tau" in said.out
    assert "tried on excerpts only, not rendered" in said.out


@pytest.mark.long
def test_a_mix_that_is_too_short_is_refused_before_anything_is_rendered(tmp_path):
    mix(tmp_path / "mix.wav", 2, 8000)
    chain_file(tmp_path, CHAIN)
    refused = run(tmp_path, "test.chain.yaml")
    assert refused.code == 3
    assert "mix.wav lasts 0:02.0: too short for excerpts, which take 1:00.0 at least" in refused.err
    assert "write `listen to: whole` in 'explore'" in refused.err
    assert not (tmp_path / "results").exists()
