"""Sheets hold what every stage gave, the same wherever the render started, told by an outside render."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from plugin_fixtures import done, packaged, stage
from rendering import a_mix, key_of, step_job
from whole_runs import samples

from sweeper.audio.marks import Marks
from sweeper.records import HandleRecord
from sweeper.render.job import Job, StoredStep
from sweeper.render.store import open_entry

GAIN = stage("builtin:Gain", name="gain", gain_db="-6 dB")
OUT = replace(stage("builtin:Gain", name="out"), bypass=True)
LIMITER = stage(packaged("ZaMaximX2"), name="limiter", Threshold="-12 dB")


@pytest.fixture(scope="module")
def music(tmp_path_factory):
    return a_mix(tmp_path_factory.mktemp("mix"), 0.5)


def a_job(music, target, *stages, **more) -> Job:
    target.mkdir(exist_ok=True)
    return Job("001", "t", music, {}, stages, (), target / "render.wav", "0" * 24, "2026-11-24", "18:05:09", 60.0,
               **more)  # fmt: skip


def marked(sound: np.ndarray) -> str:
    marks = Marks(2, 44100)
    marks.advance(sound)
    return marks.text()


def test_a_sheet_tells_what_each_stage_that_is_heard_gave(pool, music, tmp_path):
    made = done(pool, "sweeper.render.task:render_variant", a_job(music, tmp_path / "v", GAIN, OUT, LIMITER))
    gain, out, limiter = made.stages
    assert out.gave == ()
    halved = samples(music.path) * np.float32(10 ** (-6 / 20))
    alone = done(pool, "sweeper.render.task:render_variant", a_job(music, tmp_path / "alone", GAIN))
    assert gain.gave == alone.stages[0].gave, "whatever follows it"
    assert np.abs(samples(tmp_path / "alone" / "render.wav") - halved).max() < 1e-6
    assert gain.gave[0].marks == marked(samples(tmp_path / "alone" / "render.wav"))
    assert limiter.gave[0].marks == marked(samples(tmp_path / "v" / "render.wav"))
    assert limiter.gave[0].frames == music.source.frames


def test_it_is_the_same_from_a_stored_step_and_from_one_stored_in_passing(pool, music, tmp_path):
    whole = done(pool, "sweeper.render.task:render_variant", a_job(music, tmp_path / "whole", GAIN, LIMITER))
    target = StoredStep(tmp_path / "store", key_of("gain"), 1)
    done(pool, "sweeper.render.step_task:render_step", step_job(music, target, (GAIN,), None))
    assert open_entry(target.folder, target.key).stages[0].gave == whole.stages[0].gave
    later = done(pool, "sweeper.render.task:render_variant",
                 a_job(music, tmp_path / "later", GAIN, LIMITER, start=target))  # fmt: skip
    assert [s.gave for s in later.stages] == [s.gave for s in whole.stages]
    passing = StoredStep(tmp_path / "store", key_of("passing"), 1)
    done(pool, "sweeper.render.task:render_variant",
         a_job(music, tmp_path / "passing", GAIN, LIMITER, passing=passing))  # fmt: skip
    assert open_entry(passing.folder, passing.key).stages[0].gave == whole.stages[0].gave


def test_all_buses_together_are_told_by_the_last_stage_of_them(pool, music, tmp_path):
    lift = replace(stage("builtin:Gain", name="up", gain_db="-3 dB"), bus="lift")
    fader = replace(stage("", name="lift"), bus="lift", is_fader=True, output_trim_db=-12.0)
    made = done(pool, "sweeper.render.task:render_variant", a_job(music, tmp_path / "v", GAIN, lift, fader, LIMITER))
    assert [bool(record.gave) for record in made.stages] == [True, False, True, True]


def test_handles_parent_and_change_go_on_the_sheet(pool, music, tmp_path):
    import json

    drive = HandleRecord("drive", "lower", "Threshold")
    job = a_job(music, tmp_path / "v", GAIN, LIMITER, handles=((), (drive,)), parent="f" * 24, change="louder")
    done(pool, "sweeper.render.task:render_variant", job)
    sheet = json.loads((tmp_path / "v" / "recall.json").read_text())
    assert [s["handles"] for s in sheet["stages"]] == [[], [{"name": "drive", "direction": "lower",
                                                            "setting": "Threshold"}]]  # fmt: skip
    assert (sheet["parent"], sheet["change"]) == ("f" * 24, "louder")
