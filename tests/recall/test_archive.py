"""An archive holds everything but the plugins, appears whole or not at all, and is looked at before it has its name."""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import sys
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest
from plugin_fixtures import done, packaged, stage
from recall_sheets import copied, rendered
from whole_runs import mix

from sweeper.errors import AudioFileError, RunFolderError, SheetError
from sweeper.recall.again import again
from sweeper.recall.archive import archived
from sweeper.recall.asked import Asked
from sweeper.recall.contents import packed
from sweeper.recall.find import find
from sweeper.records.archived import contents_of


@pytest.fixture(scope="module")
def made(pool, tmp_path_factory) -> Path:
    """A folder with a run whose stage has a state file."""
    folder = tmp_path_factory.mktemp("made")
    state = folder / "limiter.vstpreset"
    done(pool, "hosting_tasks:saved_state", (stage(packaged("ZaMaximX2"), Threshold="-18 dB"), state))
    rendered(pool, folder, replace(stage(packaged("ZaMaximX2"), name="limiter"), state=state))
    return folder


@pytest.fixture
def run(made, tmp_path) -> Path:
    """The run with a file of the engineer's own, notes, prints, and sound that can be made again."""
    (run,) = (copied(made, tmp_path) / "results").iterdir()
    (run / "my own words.txt").write_text("bright")
    for name in ("audition/notes.json", "audition/page.html", "audition/audio/004.wav", "prints/disc/print.json",
                 "prints/disc/01.wav", "prints/disc/proof.mp3", "mixes/1-matched.wav", "variants/004/matched.wav",
                 "outside/tape back.wav", "variants/004/.render.wav.part-1-x"):  # fmt: skip
        (run / name).parent.mkdir(parents=True, exist_ok=True)
        (run / name).write_text("{}")
    return run


def written(run: Path, target: Path, with_renders: bool = False, mixes=()) -> Path:
    with archived(packed(run, mixes, with_renders), target, lambda words: None):
        assert not target.exists(), "it has no name before it was looked at"
    return target


def names(target: Path, run: Path) -> set[str]:
    with zipfile.ZipFile(target) as file:
        assert all(name.startswith(f"{run.name}/") for name in file.namelist()), "relative, in one folder"
        return {name.removeprefix(f"{run.name}/") for name in file.namelist()}


def test_everything_that_cannot_be_made_again_is_in_it(run, tmp_path):
    inside = names(written(run, tmp_path / "out.zip"), run)
    (state,) = (run / "states").iterdir()
    assert {name for name in inside if not name.startswith("archive/")} == {
        "variants/004/recall.json", "variants/004/not-kept.txt", f"states/{state.name}", "my own words.txt",
        "log.jsonl", "audition/notes.json", "prints/disc/print.json", "outside/tape back.wav",
    }  # fmt: skip
    assert sum(name.startswith("archive/mixes/") for name in inside) == 1


def test_renders_are_in_it_where_they_are_wanted(run, tmp_path):
    inside = names(written(run, tmp_path / "out.zip", with_renders=True), run)
    assert "variants/004/render.wav" in inside
    assert not {"variants/004/matched.wav", "variants/004/not-kept.txt", "prints/disc/01.wav"} & inside


def test_its_list_is_what_sha256sum_reads(run, tmp_path):
    target = written(run, tmp_path / "out.zip")
    with zipfile.ZipFile(target) as file:
        file.extractall(tmp_path / "elsewhere")
        for line in file.read(f"{run.name}/archive/checksums.txt").decode().splitlines():
            sha256, name = line.split("  ", 1)
            assert hashlib.sha256(file.read(f"{run.name}/{name}")).hexdigest() == sha256
    checked = subprocess.run(["sha256sum", "--strict", "--quiet", "-c", "archive/checksums.txt"],
                             cwd=tmp_path / "elsewhere" / run.name, check=False)  # fmt: skip
    assert checked.returncode == 0


def test_unpacked_elsewhere_it_comes_out_again_with_everything_else_gone(run, tmp_path):
    wav = run / "variants" / "004" / "render.wav"
    target = written(run, tmp_path / "out.zip")
    alone = shutil.copy(wav, tmp_path / "from the client.wav")
    shutil.rmtree(tmp_path / "results")
    (tmp_path / "mix.wav").unlink()
    (tmp_path / "limiter.vstpreset").unlink()
    elsewhere = tmp_path / "elsewhere"
    with zipfile.ZipFile(target) as file:
        file.extractall(elsewhere)
    found = find(Path(alone), tmp_path / "results", [elsewhere])
    made = again(found, Asked(tmp_path / "results"))
    assert made.identical
    assert made.now.source.file.startswith(str(elsewhere))
    assert Path(made.now.stages[0].state_file).is_relative_to(elsewhere)


def test_never_over_another_file(run, tmp_path):
    target = tmp_path / "out.zip"
    target.write_text("mine")
    with pytest.raises(RunFolderError, match="is there already"):
        written(run, target)
    assert target.read_text() == "mine"


@pytest.mark.parametrize("fault", [RuntimeError, KeyboardInterrupt])
def test_what_goes_wrong_on_the_way_leaves_nothing(run, tmp_path, fault):
    target = tmp_path / "out.zip"
    before = sorted(tmp_path.iterdir())
    with pytest.raises(fault), archived(packed(run, (), False), target, lambda words: None):
        raise fault
    assert sorted(tmp_path.iterdir()) == before


def test_killed_midway_no_file_of_its_name_is_there_and_the_next_clears_up(run, tmp_path):
    target = tmp_path / "out.zip"
    code = ("import os, sys; from pathlib import Path; from sweeper.recall.archive import archived;"
            "from sweeper.recall.contents import packed; run, target = map(Path, sys.argv[1:])\n"
            "with archived(packed(run, (), False), target, print): os.kill(os.getpid(), 9)")  # fmt: skip
    killed = subprocess.run([sys.executable, "-c", code, str(run), str(target)], check=False, capture_output=True)
    assert killed.returncode == -9
    assert not target.exists()
    assert list(tmp_path.glob(".out.zip.part-*"))
    written(run, target)
    assert list(tmp_path.glob(".out.zip.part-*")) == []


def test_what_comes_out_altered_is_not_kept(run, tmp_path, monkeypatch):
    real = zipfile.ZipFile.extractall

    def altering(self, path):
        real(self, path)
        (Path(path) / run.name / "my own words.txt").write_text("dull")

    monkeypatch.setattr(zipfile.ZipFile, "extractall", altering)
    with pytest.raises(RunFolderError, match=r"not what went in: my own words\.txt is altered"):
        written(run, tmp_path / "out.zip")
    assert not (tmp_path / "out.zip").exists()


def test_a_state_that_is_nowhere_is_told(run, tmp_path):
    shutil.rmtree(run / "states")
    with pytest.raises(RunFolderError, match="the state of 'limiter' of variant 004 is missing"):
        written(run, tmp_path / "out.zip")


def test_a_mix_that_moved_is_named_and_known_by_its_sound(run, tmp_path):
    moved = (tmp_path / "mix.wav").rename(tmp_path / "the mix.wav")
    with pytest.raises(AudioFileError, match="is not there any more") as caught:
        packed(run, (), False)
    assert "--mix" in caught.value.remedy
    target = written(run, tmp_path / "out.zip", mixes=(mix(tmp_path / "other.wav", 1.0, seed=2), moved))
    with zipfile.ZipFile(target) as file:
        file.extractall(tmp_path / "elsewhere")
    (kept,) = contents_of(tmp_path / "elsewhere" / run.name).files
    assert (tmp_path / "elsewhere" / run.name / kept.inside).read_bytes() == moved.read_bytes()


def test_an_archive_can_be_archived_again(run, tmp_path):
    with zipfile.ZipFile(written(run, tmp_path / "out.zip")) as file:
        file.extractall(tmp_path / "elsewhere")
    (tmp_path / "mix.wav").unlink()
    inside = names(written(tmp_path / "elsewhere" / run.name, tmp_path / "again.zip"), run)
    assert inside == names(tmp_path / "out.zip", run)


@pytest.mark.parametrize("name", ["nowhere", "empty"])
def test_what_is_no_run_is_told(tmp_path, name):
    (tmp_path / "empty").mkdir()
    with pytest.raises(RunFolderError, match="is not the folder of a run"):
        packed(tmp_path / name, (), False)


def test_a_damaged_sheet_is_told_before_anything_is_written(run, tmp_path):
    place = run / "variants" / "004" / "recall.json"
    place.write_text(json.dumps(json.loads(place.read_text()) | {"stages": 3}))
    with pytest.raises(SheetError, match="cannot be used"):
        packed(run, (), False)
