"""A run in one file, as a user meets it: made again from the sound file alone and the archive, the run deleted."""

from __future__ import annotations

import json
import shutil
import zipfile
from pathlib import Path

import pytest
from whole_runs import chain_file, mix, sweeper

CHAIN = """
title: Lantern Bay
mixes:
  - {file: music/mix.wav, sections: {all: "0:00-0:02"}}
references: [music/record.wav]
inserts:
  - {name: eq, plugin: ZamEQ2, channels: mid/side, settings: {mid: {Boost/Cut 1: 2.2 dB}}}
output:
  - {name: limiter, plugin: ZaMaximX2, settings: {Output Ceiling: -1 dB}, drive: lower Threshold,
     ceiling: Output Ceiling}
vary: {limiter.Release: [3 ms, 25 ms]}
reach: [{loudness: -14 LUFS, by: limiter.drive}]
"""


def run_of(folder: Path) -> Path:
    (folder / "music").mkdir()
    mix(folder / "music" / "mix.wav", 3.0)
    mix(folder / "music" / "record.wav", 2.0, seed=5)
    done = sweeper("run", chain_file(folder, CHAIN, "lantern.chain.yaml"), "--json", cwd=folder)
    assert done.code == 0, done.err
    return folder / done.data["run"]


@pytest.mark.long
def test_from_the_sound_file_alone_and_the_archive_on_another_machine(tmp_path):
    """Everything of where it was made is deleted, the store is emptied, and it is another folder."""
    here, there = tmp_path / "here", tmp_path / "there"
    here.mkdir()
    there.mkdir()
    run = run_of(here)
    done = sweeper("archive", run, there / "lantern.zip", "--prove", cwd=here)
    assert done.code == 0, done.err
    assert "every checksum holds" in done.out
    assert "proven: variant 001 was recalled from it in a fresh process with an empty store: identical" in done.out
    then = json.loads((run / "variants" / "002" / "recall.json").read_text())
    shutil.copy(run / "variants" / "002" / "matched.wav", there / "from the client.wav")
    shutil.rmtree(here)
    with zipfile.ZipFile(there / "lantern.zip") as file:
        file.extractall(there / "unpacked")
    again = sweeper("recall", "from the client.wav", "--look-in", "unpacked", "--json", cwd=there,
                    SWEEPER_STORE=str(tmp_path / "emptied"))  # fmt: skip
    assert again.code == 0, again.err
    assert (again.data["verdict"], again.data["variant"]) == ("identical", "002")
    new = json.loads((there / again.data["run"] / again.data["files"]["recall"]).read_text())
    assert new["audio_sha256"] == then["audio_sha256"]
    assert new["parent"] == then["id"]
    revision = sweeper("recall", f"unpacked/{run.name}/variants/001", "--change", "loudness -0.5 LU", "--by", "ceiling",
                       "--json", cwd=there)  # fmt: skip
    assert revision.code == 0, revision.err
    assert revision.data["came_back_first"]
    assert revision.data["setting"]["name"] == "limiter.Output Ceiling"


@pytest.mark.long
def test_an_unpacked_archive_is_a_run_that_goes_on_and_its_chain_file_runs_anew(tmp_path):
    here, there = tmp_path / "here", tmp_path / "there"
    here.mkdir()
    run = run_of(here)
    sheets = {p.parent.name: p.read_bytes() for p in run.glob("variants/*/recall.json")}
    table = (run / "table.csv").read_bytes()
    assert sweeper("archive", run, tmp_path / "lantern.zip", cwd=here).code == 0
    shutil.rmtree(here)
    with zipfile.ZipFile(tmp_path / "lantern.zip") as file:
        file.extractall(there)
    unpacked = there / run.name
    on = sweeper("run", unpacked, "--json", cwd=there)
    assert on.code == 0, on.err
    assert {p.parent.name: p.read_bytes() for p in unpacked.glob("variants/*/recall.json")} == sheets, "not made anew"
    assert on.data["work"]["passes"] == 0
    assert len((unpacked / "table.csv").read_bytes().splitlines()) == len(table.splitlines())
    assert sweeper("archive", unpacked, tmp_path / "again.zip", cwd=there).code == 0
    shutil.rmtree(unpacked)
    with zipfile.ZipFile(tmp_path / "again.zip") as file:
        file.extractall(there)
    anew = sweeper("run", unpacked / "archive" / "chain" / "lantern.chain.yaml", "--json", cwd=there)
    assert anew.code == 0, anew.err
    for place in (there / anew.data["run"]).glob("variants/*/recall.json"):
        assert json.loads(place.read_text())["audio_sha256"] == json.loads(sheets[place.parent.name])["audio_sha256"]


def test_a_wrong_command_line_and_a_name_that_is_taken(tmp_path):
    (tmp_path / "out.zip").write_text("mine")
    assert "Missing argument" in sweeper("archive", "run", cwd=tmp_path).err
    refused = sweeper("archive", "nowhere", "out.zip", "--json", cwd=tmp_path)
    assert refused.code == 5
    assert "is not the folder of a run" in refused.data["error"]["what"]
