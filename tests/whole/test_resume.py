"""A run can die at any moment: what was finished stays, nothing is rendered twice, nothing is half-written."""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import psutil
import pytest
from plugin_builder import build, read_witness
from whole_runs import Ran, chain_file, mix, sweeper

SECONDS, RATE_HZ = 3.0, 44100
CHAIN = """
title: killed
mix: mix.wav
inserts: [{name: slow, plugin: Probe Slow}, {name: seen, plugin: Probe Witness}]
output:
  - {name: limiter, plugin: "builtin:BrickwallLimiter", drive: raise input trim, settings: {ceiling db: -1 dB}}
vary:
  seen.Amount: [1, 2, 3]
  limiter.release ms: [50 ms, 100 ms]
reach: [{loudness: -14 LUFS, by: limiter.drive}]
"""
FINISHED = """
title: done
mix: mix.wav
inserts: [{name: g, plugin: "builtin:Gain"}]
vary: {g.gain db: [-1, -2]}
"""


@pytest.fixture
def place(tmp_path: Path, plugins: Path) -> Path:
    mix(tmp_path / "mix.wav", SECONDS)
    (tmp_path / "plugins").symlink_to(plugins)
    chain_file(tmp_path, CHAIN)
    return tmp_path


def environment(place: Path) -> dict[str, str]:
    return {"SWEEPER_PLUGIN_PATH": str(place / "plugins"), "SWEEPER_STORE": str(place / "store"),
            "SWEEPER_WITNESS": str(place / "witness")}  # fmt: skip


def started(place: Path, what: Path | str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", "from sweeper.cli.main import main; main()", "run", str(what), "--json"],
        cwd=place, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, start_new_session=True,
        env={**os.environ, **environment(place)},
    )  # fmt: skip


def gone_on(place: Path, folder: Path, *options: object) -> Ran:
    return sweeper("run", folder, "--json", *options, cwd=place, **environment(place))


def folder_of(place: Path) -> Path | None:
    found = next(iter((place / "results").glob("*/run.json")), None)
    return found.parent if found else None


def done_in(folder: Path) -> dict[str, str]:
    """The finished variants, and the id of the render of each."""
    found = {}
    for sheet in folder.glob("variants/*/recall.json"):
        if sheet.with_name("render.wav").is_file():
            found[sheet.parent.name] = json.loads(sheet.read_text())["audio_sha256"]
    return found


def killed_and_gone_on(place: Path, kills: int, seed: int) -> None:
    """Kill the whole family with -9 at random moments, look at what is left, go on; in the end all is there."""
    rng = random.Random(seed)
    alone = sweeper("run", "test.chain.yaml", "--json", "--results", "alone", "--store-limit", "0", cwd=place,
                    **environment(place))  # fmt: skip
    began = time.monotonic()
    process = started(place, "test.chain.yaml")
    kept: dict[str, tuple[str, int]] = {}
    for _ in range(kills):
        time.sleep(rng.uniform(0.3, 3.0) if folder_of(place) else rng.uniform(1.5, 3.0))
        family = [psutil.Process(process.pid), *psutil.Process(process.pid).children(recursive=True)] if (
            process.poll() is None) else []  # fmt: skip
        for member in family:
            try:
                member.send_signal(signal.SIGKILL)
            except psutil.NoSuchProcess:  # it was quicker
                continue
        process.communicate()
        folder = folder_of(place)
        if folder is not None:
            renders = {id: (folder / "variants" / id / "render.wav").stat().st_ino for id in done_in(folder)}
            now = {id: (sha, renders[id]) for id, sha in done_in(folder).items()}
            assert kept.items() <= now.items(), "what was finished is as it was, and was not rendered again"
            kept = now
        process = started(place, folder or "test.chain.yaml")
    _, said = process.communicate(timeout=300)
    assert process.returncode == 0, said
    folder = folder_of(place)
    assert folder is not None
    finished = json.loads((folder / "run.json").read_text())
    assert finished["state"] == "finished"
    assert {id: sha for id, (sha, _) in kept.items()}.items() <= done_in(folder).items()
    expected = (place / alone.data["run"] / "table.csv").read_bytes()
    assert (folder / "table.csv").read_bytes() == expected, "the table of a run that nobody disturbed"
    half = [p for p in folder.rglob("*") if ".part" in p.name]
    assert half == []
    assert len(list(folder.glob("variants/*/matched.wav"))) == 6
    assert time.monotonic() - began < 600


@pytest.mark.long
def test_killed_at_random_moments_nothing_is_lost(place):
    killed_and_gone_on(place, kills=5, seed=20261125)


@pytest.mark.long
def test_killed_fifty_times_nothing_is_lost(place):
    for round_ in range(10):
        shutil.rmtree(place / "results", ignore_errors=True)
        shutil.rmtree(place / "store", ignore_errors=True)
        shutil.rmtree(place / "alone", ignore_errors=True)
        killed_and_gone_on(place, kills=5, seed=round_)


def test_ctrl_c_then_going_on_renders_only_what_is_left(place):
    process = started(place, "test.chain.yaml")
    deadline = time.monotonic() + 60
    while not list(place.glob("results/*/variants/*/render.wav")):
        assert time.monotonic() < deadline
        time.sleep(0.05)
    process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=30)
    assert process.returncode == 130
    folder = folder_of(place)
    assert folder is not None
    assert f"`sweeper run {folder.relative_to(place)}` goes on where it stopped" in said
    done = done_in(folder)
    before = len(read_witness(place / "witness"))
    ran = gone_on(place, folder)
    assert ran.code == 0, ran.err
    assert ran.data["work"]["variants"] == 6 - len(done)
    assert len(read_witness(place / "witness")) > before
    again = gone_on(place, folder)
    assert (again.code, again.data["work"]["steps_done"], again.data["work"]["variants"]) == (0, 0, 0)
    assert again.data["variants"] == ran.data["variants"]
    assert again.data["work"]["total_steps"] == ran.data["work"]["total_steps"] > 0


@pytest.mark.long
def test_a_failed_variant_is_tried_again(place, plugins):
    chain_file(place, """
mix: mix.wav
inserts: [{name: bad, plugin: Probe Segfault Process}]
vary: {bad.bypass: [on, off]}
""")
    first = sweeper("run", "test.chain.yaml", "--json", cwd=place, **environment(place))
    assert first.code == 4
    again = gone_on(place, place / first.data["run"])
    assert again.code == 4
    assert again.data["work"]["variants"] == 1


@pytest.fixture(scope="module")
def finished_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("finished")
    (place / "plugins").mkdir()
    mix(place / "mix.wav", SECONDS)
    chain_file(place, FINISHED)
    ran = sweeper("run", "test.chain.yaml", "--json", cwd=place, **environment(place))
    return place / ran.data["run"]


@pytest.fixture
def finished(finished_once: Path) -> Iterator[Path]:
    """The folder of a finished run that is this test's own, beside a mix and a chain file as they were then."""
    place = finished_once.parents[1]
    own = finished_once.with_name("own")
    shutil.copytree(finished_once, own)
    yield own
    shutil.rmtree(own)
    mix(place / "mix.wav", SECONDS)
    chain_file(place, FINISHED)


def unfinished(folder: Path) -> Path:
    """A run whose second variant was never rendered."""
    shutil.rmtree(folder / "variants" / "002")
    return folder


def test_an_edited_chain_file_does_not_change_a_run_that_was_begun(finished):
    place = finished.parents[1]
    chain_file(place, "title: other\nmix: mix.wav\ninserts: [{name: g, plugin: 'builtin:Gain'}]\n")
    ran = gone_on(place, unfinished(finished))
    assert ran.code == 0, ran.err
    assert [v["settings"]["g.gain db"] for v in ran.data["variants"]] == ["-1", "-2"]


def test_another_mix_in_its_place_is_refused_by_name(finished):
    place = finished.parents[1]
    mix(place / "mix.wav", SECONDS, seed=2)
    ran = gone_on(place, unfinished(finished))
    assert ran.code == 5
    assert "this has changed: the mix mix.wav" in ran.err
    assert "start a new run" in ran.err


@pytest.mark.long
def test_another_build_of_a_plugin_is_refused_by_name(place, tmp_path_factory):
    folder = tmp_path_factory.mktemp("builds")
    build("gain", folder, title="Rebuilt Gain", GAIN_DB=-3.0)
    chain_file(place, "mix: mix.wav\ninserts: [{name: g, plugin: Rebuilt Gain}]\nvary: {g.bypass: [on, off]}\n")
    env = {**environment(place), "SWEEPER_PLUGIN_PATH": str(folder)}
    run = place / sweeper("run", "test.chain.yaml", "--json", cwd=place, **env).data["run"]
    shutil.rmtree(folder / "Rebuilt Gain.vst3", ignore_errors=True)
    build("gain", folder, title="Rebuilt Gain", GAIN_DB=-4.0)
    ran = sweeper("run", unfinished(run), "--json", cwd=place, **env)
    assert ran.code == 5
    assert "the plugin " in ran.err
    assert "Rebuilt Gain.vst3" in ran.err


@pytest.mark.long
def test_two_processes_on_one_run_folder_the_second_is_told(place):
    process = started(place, "test.chain.yaml")
    deadline = time.monotonic() + 60
    while folder_of(place) is None or not list(place.glob("results/*/variants/*")):
        assert time.monotonic() < deadline
        time.sleep(0.05)
    folder = folder_of(place)
    assert folder is not None
    second = gone_on(place, folder)
    assert second.code == 5
    assert "another sweeper is at work in" in second.err
    _, said = process.communicate(timeout=120)
    assert process.returncode == 0, said


def test_a_folder_that_is_no_run_is_told(place):
    (place / "empty").mkdir()
    ran = gone_on(place, place / "empty")
    assert ran.code == 5
    assert "is not the folder of a run" in ran.err


@pytest.mark.long
def test_a_clock_set_back_changes_nothing(finished):
    """Files seem to come from the future: what is finished is told by the files, never by their times."""
    place = finished.parents[1]
    future = time.time() + 30 * 86400
    for file in (*finished.rglob("*"), *(place / "store").rglob("*")):
        os.utime(file, (future, future))
    ran = gone_on(place, unfinished(finished))
    assert ran.code == 0, ran.err
    assert ran.data["work"]["variants"] == 1
    new = sweeper("run", "test.chain.yaml", "--json", cwd=place, **environment(place))
    assert new.code == 0
    assert new.data["run"] != str(finished.relative_to(place))


@pytest.fixture
def small_disk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A disk of 6 MB of its own, mounted for the test: root may do that, who also installs the tests' packages."""
    folder = tmp_path_factory.mktemp("disk")
    subprocess.run(["mount", "-t", "tmpfs", "-o", "size=6m", "tmpfs", str(folder)], check=True)
    yield folder
    subprocess.run(["mount", "-o", "remount,rw", str(folder)], check=True)
    subprocess.run(["umount", str(folder)], check=True)


@pytest.mark.long
def test_a_run_that_cannot_fit_is_refused_before_anything_is_rendered(place, small_disk):
    ran = sweeper("run", "test.chain.yaml", "--results", small_disk / "results", cwd=place, **environment(place))
    assert ran.code == 5
    assert "this run needs" in ran.err
    assert "MB are free" in ran.err
    assert not (small_disk / "results").exists()


def test_a_disk_that_fills_up_stops_the_run_and_with_room_it_goes_on(small_disk, finished):
    """The run is begun with room, moved to a disk that is then full."""
    place = finished.parents[1]
    run = small_disk / "run"
    shutil.copytree(unfinished(finished), run)
    (run / "mixes" / "1-matched.wav").unlink()
    kept = done_in(run)
    code = (
        "import sweeper.pipeline as p, sweeper.cli.main as m; p.refuse_what_cannot_fit = lambda *a: None; "
        f"raise SystemExit(m.exit_code(['run', {str(run)!r}]))"
    )
    filler = small_disk / "filler"
    free = shutil.disk_usage(small_disk).free
    filler.write_bytes(bytes(free - 300_000))
    full = subprocess.run([sys.executable, "-c", code], cwd=place, capture_output=True, text=True, check=False,
                          env={**os.environ, **environment(place)})  # fmt: skip
    assert full.returncode == 5, full.stderr
    assert "is full" in full.stderr
    assert "1 of 2 variants are finished" in full.stderr
    assert "goes on where it stopped" in full.stderr
    assert done_in(run) == kept
    filler.unlink()
    more = subprocess.run([sys.executable, "-c", code], cwd=place, capture_output=True, text=True, check=False,
                          env={**os.environ, **environment(place)})  # fmt: skip
    assert more.returncode == 0, more.stderr
    assert len(done_in(run)) == 2
    assert kept.items() <= done_in(run).items()


def test_a_read_only_disk_is_said(small_disk, finished):
    place = finished.parents[1]
    run = small_disk / "run"
    shutil.copytree(unfinished(finished), run)
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    ran = gone_on(place, run)
    assert ran.code == 5
    assert "cannot write in" in ran.err
    assert "Read-only file system" in ran.err
