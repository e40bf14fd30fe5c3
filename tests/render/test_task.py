"""One variant in a worker: its sound, its numbers and its sheet belong together, whatever it started from."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace

import numpy as np
import pytest
import soundfile
from plugin_fixtures import done, packaged, stage
from rendering import a_mix, key_of, step_job, variant_job
from whole_runs import outside_lufs, samples

from sweeper.audio.broadcast import read_tag
from sweeper.errors import PluginError, RunFolderError, SettingError
from sweeper.plan.reach_terms import Direction, Ending
from sweeper.records import SHEET_NAME, Sheet
from sweeper.render.job import GoalOrder, ReachOrder, StoredStep
from sweeper.render.store import open_entry

GAIN = stage("builtin:Gain", name="gain", gain_db="-6 dB")
REVERB = stage("builtin:Reverb", name="room")
LIMITER = stage(packaged("ZaMaximX2"), name="limiter", Threshold="-12 dB")
OUT = replace(stage("builtin:Gain", name="out"), bypass=True)
TASK = "sweeper.render.task:render_variant"


def louder(goal_lufs: float, number: int, setting: str = "output trim", way=Direction.RAISE) -> ReachOrder:
    return ReachOrder(number, setting, "", way, (GoalOrder("loudness_lufs", goal_lufs, 1, 0.1, False, "loudness"),))


@pytest.fixture
def variant(pool, tmp_path):
    """Renders a variant of the same mix into a folder of its own: (what came of it, its file)."""
    music = a_mix(tmp_path, 0.6)

    def made(name, stages, *reach, **how):
        target = tmp_path / name / "render.wav"
        target.parent.mkdir(exist_ok=True)
        return done(pool, TASK, variant_job(music, target, stages, reach, **how)), target

    made.music = music
    return made


def test_a_gain_is_the_mix_times_its_factor_measured_and_written(variant):
    rendered, file = variant("one", (GAIN, OUT))
    assert np.abs(samples(file) - samples(variant.music.path) * 10 ** (-6 / 20)).max() < 1e-6
    assert (rendered.passes, rendered.steps, rendered.solved, rendered.trouble) == (1, 1, (), "")
    assert rendered.measurements["loudness_lufs"] == pytest.approx(outside_lufs(file), abs=0.02)
    assert [record.name for record in rendered.stages] == ["gain", "out"]
    assert rendered.source == variant.music.source
    assert 0 < rendered.plugin_s <= rendered.wall_s


def test_the_hash_is_of_the_samples_as_libsndfile_reads_them(variant):
    rendered, file = variant("one", (REVERB, LIMITER))
    data, _ = soundfile.read(file, dtype="<f4", always_2d=True)
    assert rendered.audio_sha256 == hashlib.sha256(np.ascontiguousarray(data).tobytes()).hexdigest()


def test_sheet_and_file_carry_the_same_id_and_loudness(variant):
    rendered, file = variant("one", (GAIN,))
    sheet = Sheet.from_data(json.loads(file.with_name(SHEET_NAME).read_text()))
    tag = read_tag(file)
    assert (sheet.id, sheet.variant, sheet.audio_sha256) == (tag.reference, "007", rendered.audio_sha256)
    assert (tag.date, tag.time) == ("2026-11-24", "18:05:09")
    for field, key in [("loudness_lufs", "loudness_lufs"), ("true_peak_dbtp", "true_peak_dbtp"),
                       ("momentary_max_lufs", "momentary_max_lufs")]:  # fmt: skip
        assert getattr(tag, field) == pytest.approx(rendered.measurements[key], abs=0.005)
        assert sheet.measurements[key] == rendered.measurements[key]


def test_a_reach_lands_and_the_file_is_its_last_pass(variant):
    wanted = outside_lufs(variant.music.path) + 4
    rendered, file = variant("solved", (GAIN, LIMITER), louder(wanted, 1))
    (solved,) = rendered.solved
    assert solved.ending is Ending.ON_TARGET
    assert outside_lufs(file) == pytest.approx(wanted, abs=0.12)
    assert solved.setting == "limiter.output trim"
    assert rendered.stages[1].output_trim_db == pytest.approx(solved.at)
    assert rendered.passes == solved.passes > 1
    assert rendered.steps == 2 * rendered.passes
    assert {path.name for path in file.parent.iterdir()} == {"render.wav", SHEET_NAME}, "no pass is left lying about"
    _, same = variant("again", (GAIN, replace(LIMITER, output_trim_db=solved.at)))
    assert np.array_equal(samples(file), samples(same))


def test_a_control_of_the_plugin_is_solved_under_its_own_name(variant):
    wanted = outside_lufs(variant.music.path) + 5
    rendered, file = variant("solved", (LIMITER,), louder(wanted, 0, "threshold", Direction.LOWER))
    (solved,) = rendered.solved
    assert (solved.setting, solved.unit, solved.ending) == ("limiter.Threshold", "dB", Ending.ON_TARGET)
    assert outside_lufs(file) == pytest.approx(wanted, abs=0.12)
    assert [float(one.text) for one in rendered.stages[0].settings] == [pytest.approx(solved.at, abs=1e-3)]


def test_from_a_stored_step_it_is_what_it_is_from_the_mix(variant, pool, tmp_path):
    stages = (OUT, REVERB, LIMITER)
    start = StoredStep(tmp_path / "store", key_of("room"), 2)
    done(pool, "sweeper.render.step_task:render_step", step_job(variant.music, start, stages[:2]))
    whole, one = variant("whole", stages)
    rest, other = variant("rest", stages, start=start)
    assert rest.audio_sha256 == whole.audio_sha256
    assert np.array_equal(samples(one), samples(other))
    assert (whole.steps, rest.steps) == (2, 1)
    assert rest.stages == whole.stages
    wanted = outside_lufs(variant.music.path)
    solved = [variant(name, stages, louder(wanted, 2), **how)[0]
              for name, how in [("a", {}), ("b", {"start": start})]]  # fmt: skip
    assert solved[0].audio_sha256 == solved[1].audio_sha256
    assert solved[0].solved == solved[1].solved


def test_a_setting_that_moves_meanwhile_is_noted(variant, probes):
    rendered, _ = variant("one", (GAIN, stage(probes["wandering"], name="odd", Amount="6")))
    note = next(note for note in rendered.notes if "moved" in note)
    assert note.startswith("'odd' (")
    assert "'Amount' moved during the render" in note


def test_a_solved_setting_that_the_plugin_says_it_has_elsewhere_is_no_solution(variant, probes):
    with pytest.raises(SettingError, match=r"^stage 'odd' \(.*\): 'Amount' did not stick"):
        variant("one", (stage(probes["wandering"], name="odd"),), louder(-30.0, 0, "Amount"))


def test_a_step_is_stored_in_passing(variant, tmp_path):
    mute = stage("builtin:Reverb", name="mute", wet_level="0", dry_level="0")
    passing = StoredStep(tmp_path / "store", key_of("room"), 3)
    rendered, _ = variant("one", (GAIN, OUT, REVERB, mute), passing=passing)
    _, alone = variant("alone", (GAIN, REVERB))
    entry = open_entry(passing.folder, passing.key)
    assert np.array_equal(samples(entry.file.path), samples(alone))
    assert [record.name for record in entry.stages] == ["gain", "room"]
    assert rendered.notes == ("'mute' (builtin:Reverb) put out silence",)
    assert entry.notes == (), "what is said of the stage behind it is not said of it"
    behind, _ = variant("behind", (GAIN, OUT, REVERB, mute), start=passing)
    assert behind.audio_sha256 == rendered.audio_sha256


def test_what_is_stored_behind_a_stored_step_keeps_what_was_said_of_that(variant, pool, probes, tmp_path):
    stages = (stage(probes["wandering"], name="odd", Amount="6"), GAIN, REVERB)
    start, passing = (StoredStep(tmp_path / "store", key_of(str(covered)), covered) for covered in (1, 2))
    done(pool, "sweeper.render.step_task:render_step", step_job(variant.music, start, stages[:1]))
    variant("one", stages, start=start, passing=passing)
    first, second = (open_entry(step.folder, step.key) for step in (start, passing))
    assert any("'Amount' moved" in note for note in first.notes)
    assert second.notes == first.notes
    assert [record.name for record in second.stages] == ["odd", "gain"]
    assert np.abs(samples(second.file.path) - samples(first.file.path) * 10 ** (-6 / 20)).max() < 1e-6


def test_a_store_that_cannot_be_used_costs_the_variant_nothing(variant, tmp_path):
    (tmp_path / "store").write_text("no folder")
    rendered, file = variant("one", (GAIN, REVERB), passing=StoredStep(tmp_path / "store", key_of("gain"), 1))
    assert file.is_file()
    assert rendered.passes == 1


def test_a_variant_that_fails_leaves_no_file(variant):
    with pytest.raises(SettingError, match=r"^stage 'second'"):
        variant("one", (GAIN, stage("builtin:Gain", name="second", drive="1 dB")))
    with pytest.raises(PluginError, match=r"^stage 'limiter' \(ZaMaximX2\): 'limiter' is bypassed"):
        variant("one", (replace(LIMITER, bypass=True),), louder(-10.0, 0, "Threshold"))
    assert list((variant.music.path.parent / "one").iterdir()) == []


def test_a_fault_in_the_middle_leaves_no_file(variant, probes):
    with pytest.raises(PluginError, match=r"gave -?nan instead of a sample"):
        variant("one", (stage(probes["nan_process"], name="bad"),))
    assert list((variant.music.path.parent / "one").iterdir()) == []


def test_nothing_is_ever_written_over_a_render(variant):
    _, file = variant("one", (GAIN,))
    before = file.read_bytes(), file.with_name(SHEET_NAME).read_bytes()
    with pytest.raises(RunFolderError, match="nothing is ever overwritten"):
        variant("one", (REVERB,))
    assert (file.read_bytes(), file.with_name(SHEET_NAME).read_bytes()) == before
