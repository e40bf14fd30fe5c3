"""From what came of a variant to its sheet, and back."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from recall_sheets import LIMITER, SOURCE

from sweeper.errors import RunFolderError
from sweeper.plan.reach import Ending
from sweeper.quantities import Measurements
from sweeper.records import SHEET_NAME, Sheet
from sweeper.render.job import Job, MixFile, Rendered, Solved
from sweeper.render.sheets import rendered_of, sheet_of, write_sheet

RENDERED = Rendered(
    Measurements({"loudness_lufs": -10.02, "true_peak_dbtp": None}, {"true_peak_dbtp": "silence"},
                 {"verse": Measurements({"loudness_lufs": -12.0})}),
    SOURCE, (LIMITER, replace(LIMITER, name="Übermut", bypass=True)),
    (Solved("loudness_lufs", -10.0, -10.02, Ending.ON_TARGET, "limiter.Threshold", -7.1, "dB", 3, "", -0.9),
     Solved("true_peak_dbtp", -1.0, None, Ending.NOT_ENGAGED, "limiter.Output Ceiling", -1.0, "dB", 3, "")),
    ("a note", "another"), "c" * 64, 3, 1.5, 9.75, 6, "the store was full",
)  # fmt: skip


@pytest.fixture
def job(tmp_path: Path) -> Job:
    return Job("004", "Lantern", MixFile(SOURCE, (0, 0)), {}, (), (), tmp_path / "render.wav",
               "0123456789abcdef01234567", "2026-11-24", "18:05:09", 60.0, 512)  # fmt: skip


def test_everything_that_came_of_it_comes_back_from_the_file(job):
    path = write_sheet(job, RENDERED)
    assert path == job.target.with_name(SHEET_NAME)
    back = rendered_of(Sheet.from_data(json.loads(path.read_text("utf-8"))))
    assert back == replace(RENDERED, wall_s=0.0, steps=0, trouble=""), "the work of another time is not counted again"


def test_the_sheet_says_which_variant_when_and_with_what(job):
    sheet = sheet_of(job, RENDERED)
    assert (sheet.id, sheet.title, sheet.variant) == (job.tag, "Lantern", "004")
    assert datetime.fromisoformat(sheet.created) == datetime(2026, 11, 24, 18, 5, 9)
    assert sheet.block_frames == 512
    assert {"sweeper", "numpy", "pedalboard"} <= set(sheet.versions)


def test_people_can_read_it(job):
    text = write_sheet(job, RENDERED).read_text("utf-8")
    assert '"name": "Übermut"' in text
    assert len(text.splitlines()) > 50


def test_one_of_an_unfinished_attempt_is_replaced_but_never_by_half_a_sheet(job):
    job.target.with_name(SHEET_NAME).write_text("of another attempt")
    path = write_sheet(job, RENDERED)
    whole = path.read_text("utf-8")
    with pytest.raises(ValueError, match="JSON compliant"):
        write_sheet(job, replace(RENDERED, plugin_s=float("nan")))
    assert path.read_text("utf-8") == whole
    assert json.loads(whole)["id"] == job.tag


def test_a_folder_that_is_gone_is_said(job, tmp_path):
    with pytest.raises(RunFolderError, match="cannot write"):
        write_sheet(replace(job, target=tmp_path / "gone" / "render.wav"), RENDERED)
