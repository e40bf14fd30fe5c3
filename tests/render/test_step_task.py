"""A step in the store is the sound of its stages, to the bit, with what is needed to record them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from plugin_fixtures import done, packaged, stage
from rendering import a_mix, key_of, step_job
from whole_runs import samples

from sweeper.errors import SettingError, StoreDamaged
from sweeper.render.job import StoredStep
from sweeper.render.store import open_entry

GAIN = stage("builtin:Gain", name="gain", gain_db="-6 dB")
REVERB = stage("builtin:Reverb", name="room")
LIMITER = stage(packaged("ZaMaximX2"), name="limiter", Threshold="-12 dB")
OUT = replace(stage("builtin:Gain", name="out"), bypass=True)
TASK = "sweeper.render.step_task:render_step"


@pytest.fixture
def step(pool, tmp_path):
    """Renders a step of the same mix: (what came of it, its entry)."""
    music = a_mix(tmp_path, 0.5)

    def made(name, stages, start=None):
        target = StoredStep(tmp_path / "store", key_of(name), len(stages))
        stored = done(pool, TASK, step_job(music, target, stages, start))
        return stored, open_entry(target.folder, target.key), target

    made.music = music
    return made


def test_a_gain_is_the_mix_times_the_factor_of_its_decibels(step):
    stored, entry, _ = step("gain", (GAIN,))
    assert np.abs(samples(entry.file.path) - samples(step.music.path) * 10 ** (-6 / 20)).max() < 1e-6
    assert entry.file.frames == step.music.source.frames
    assert stored.steps == 1
    assert 0 < stored.plugin_s <= stored.wall_s
    assert entry.plugin_s == stored.plugin_s


def test_in_two_steps_it_is_what_it_is_in_one(step):
    _, whole, _ = step("whole", (REVERB, LIMITER))
    first, _, target = step("first", (REVERB,))
    second, entry, _ = step("second", (REVERB, LIMITER), target)
    assert np.array_equal(samples(entry.file.path), samples(whole.file.path))
    assert np.abs(samples(entry.file.path)).max() > 0.01
    assert (first.steps, second.steps) == (1, 1)
    plain = replace(entry.stages[0], name="")
    assert (plain, entry.stages[1]) == (replace(whole.stages[0], name=""), whole.stages[1])


def test_records_are_of_what_is_heard(step):
    stored, entry, _ = step("bypassed", (GAIN, OUT, LIMITER))
    assert [record.name for record in entry.stages] == ["gain", "limiter"]
    assert entry.stages[1].latency_frames == 480
    assert stored.steps == 2


def test_what_an_engineer_should_know_goes_with_the_sound(step):
    mute = stage("builtin:Reverb", name="mute", wet_level="0", dry_level="0")
    _, entry, target = step("mute", (mute,))
    said = ("'mute' (builtin:Reverb) put out silence",)
    assert entry.notes == said
    _, behind, _ = step("behind", (mute, GAIN), target)
    assert behind.notes == said


def test_a_step_that_fails_leaves_nothing_in_the_store(step, tmp_path):
    with pytest.raises(SettingError, match="stage 'gain'"):
        step("wrong", (stage("builtin:Gain", name="gain", drive="1 dB"),))
    assert not [path for path in (tmp_path / "store").rglob("*") if path.suffix in (".wav", ".json")]


def test_a_start_that_is_gone_is_named_so_that_it_can_be_made_again(step):
    _, entry, target = step("gain", (GAIN,))
    entry.file.path.unlink()
    with pytest.raises(StoreDamaged) as told:
        step("behind", (GAIN, LIMITER), target)
    assert told.value.key == target.key
