"""A client's revision: landed on by an outside meter, everything else where it stood, its parent named."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from plugin_fixtures import packaged, stage
from recall_sheets import rendered
from whole_runs import outside_lufs

from sweeper.errors import SheetError
from sweeper.plan.reach import Ending
from sweeper.recall.again import again
from sweeper.recall.asked import Asked
from sweeper.recall.change import read_change
from sweeper.recall.find import find
from sweeper.recall.revise import revised

HANDLES = [{"name": "drive", "direction": "lower", "setting": "Threshold"},
           {"name": "ceiling", "direction": "", "setting": "Output Ceiling"}]  # fmt: skip


@pytest.fixture(scope="module")
def sheet(pool, tmp_path_factory) -> Path:
    """A master through an EQ and a limiter that works, with handles on its sheet."""
    folder = tmp_path_factory.mktemp("revise")
    eq = stage(packaged("ZamEQ2"), "mid/side", "eq", **{"Boost/Cut_1": "2.2 dB"})
    limiter = stage(packaged("ZaMaximX2"), name="limiter", Threshold="-14 dB", Output_Ceiling="-1 dB")
    place = rendered(pool, folder, eq, limiter, seconds=2.0)
    data = json.loads(place.read_text())
    data["stages"][1]["handles"] = HANDLES
    goal = data["measurements"]["true_peak_dbtp"] + 0.05
    data["reach"] = [{"measurement": "true_peak_dbtp", "goal": goal, "setting": "limiter.Output Ceiling", "at": -1.0,
                      "value": -1.0, "ending": "on target", "unit": "dB", "passes": 1, "why": None}]  # fmt: skip
    place.write_text(json.dumps(data))
    return place


def change(sheet: Path, words: str, by: str):
    return revised(find(sheet, sheet.parents[3]), Asked(sheet.parents[3]), read_change(words), by)


@pytest.mark.parametrize("by", ["ceiling", *(pytest.param(by, marks=pytest.mark.long)
                                             for by in ("drive", "eq.output trim"))])  # fmt: skip
def test_half_a_decibel_quieter(sheet, by):
    """The loudness is held against pyloudnorm, which knows nothing of ours."""
    made = change(sheet, "loudness -0.5 LU", by)
    old = sheet.parent / "render.wav"
    assert outside_lufs(made.render) - outside_lufs(old) == pytest.approx(-0.5, abs=0.06)
    assert made.came_back
    assert made.solved.ending is Ending.ON_TARGET
    assert made.was != made.stands
    then, now = made.then.stages, made.now.stages
    turned = {"ceiling": (1, "Output Ceiling"), "drive": (1, "Threshold")}.get(by)
    pairs = [(n, *pair) for n in (0, 1) for pair in zip(then[n].settings, now[n].settings, strict=True)]
    moved = [(n, one.name) for n, one, other in pairs if one.raw != other.raw]
    assert moved == ([turned] if turned else []), "nothing else was turned"
    assert (now[0].output_trim_db < 0) is (turned is None)
    written = json.loads((made.folder / "variants" / "004" / "recall.json").read_text())
    assert written["parent"] == made.then.id != written["id"]
    assert written["change"].startswith("loudness -0.5 LU by ")
    assert written["stages"][1]["handles"] == HANDLES, "so that it can be revised again"


@pytest.mark.long
def test_a_revision_can_be_recalled(sheet):
    made = change(sheet, "loudness -0.5 LU", "ceiling")
    place = made.folder / "variants" / "004" / "recall.json"
    assert again(find(place, sheet.parents[3]), Asked(sheet.parents[3])).identical
    told = json.loads((made.folder / "revision.json").read_text())
    assert told["before"]["loudness_lufs"] - told["after"]["loudness_lufs"] == pytest.approx(0.5, abs=0.05)
    assert told["setting"]["name"] == "limiter.Output Ceiling"


@pytest.mark.long
def test_by_the_ceiling_nothing_but_the_level_moves_and_by_the_drive_the_crest_does(sheet):
    """A ceiling behind the limiter is a gain: equally loud, nothing but rounding is left."""
    ceiling, drive = (change(sheet, "loudness -0.5 LU", by) for by in ("ceiling", "drive"))
    assert ceiling.null.null_db < -100
    assert ceiling.moved.values["true_peak_dbtp"] == pytest.approx(0.0, abs=0.01)
    assert drive.null.null_db > -60
    assert drive.after["true_peak_dbtp"] == pytest.approx(drive.before["true_peak_dbtp"], abs=0.15)
    assert drive.moved.values["crest_db"] > 0.1


@pytest.mark.long
def test_louder_by_the_ceiling_passes_the_peak_that_was_kept_and_that_is_told(sheet):
    made = change(sheet, "loudness +0.5 LU", "ceiling")
    (words,) = made.passed
    assert words == (f"true peak was to stay at or under {made.then.reach[0]['goal']:g} dBTP and is "
                     f"{made.after['true_peak_dbtp']:.2f} now")  # fmt: skip


@pytest.mark.long
def test_what_is_out_of_reach_ends_at_the_closest_and_is_told(sheet):
    made = change(sheet, "loudness +6 LU", "ceiling")
    assert made.solved.ending is Ending.OUT_OF_REACH
    assert made.solved.why
    assert made.render.is_file()


def test_nothing_is_made_where_the_setting_is_none(sheet):
    runs = sorted(sheet.parents[3].iterdir())
    with pytest.raises(SheetError, match="no stage is called 'limter'"):
        change(sheet, "loudness -0.5 LU", "limter.drive")
    assert sorted(sheet.parents[3].iterdir()) == runs


@pytest.mark.long
def test_a_master_that_does_not_come_back_is_changed_all_the_same_and_that_is_told(sheet, tmp_path):
    results = tmp_path / "results" / "run" / "variants" / "004"
    results.mkdir(parents=True)
    data = json.loads(sheet.read_text())
    data["audio_sha256"] = "0" * 64
    (results / "recall.json").write_text(json.dumps(data))
    assert not change(results / "recall.json", "loudness -0.5 LU", "ceiling").came_back
