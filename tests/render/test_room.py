"""What a worker has before it: the mix that the run began with, or what is rendered of it already."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from plugin_fixtures import done, packaged, stage
from rendering import a_mix, key_of, step_job, variant_job
from whole_runs import samples

from sweeper.audio import AudioFormat
from sweeper.chain.model import Channels, Number
from sweeper.errors import AudioFileError, PluginError, SettingError, StoreDamaged
from sweeper.host.setup import RideSetup, StageSetup
from sweeper.records import Applied, RideRecord, StageRecord
from sweeper.render.job import KnownFile, StoredStep, stamp_of
from sweeper.render.room import as_asked, chunk_frames, placed, unchanged
from sweeper.render.store import write_entry
from sweeper.workers import Failed, Task

GAIN = stage("builtin:Gain", name="gain", gain_db="-6 dB")
LIMITER = stage("builtin:BrickwallLimiter", name="limiter", ceiling_db="-12 dB")
OUT = replace(stage("builtin:Reverb", name="out"), bypass=True)


def test_what_looks_inside_stages_is_not_loaded_to_render():
    code = ("import sys, sweeper.render.task; names = ('render.inside', 'meter.quiet_copy', 'meter.harmonics'); "
            "print([name for name in names if f'sweeper.{name}' in sys.modules])")  # fmt: skip
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


@pytest.mark.parametrize("rate_hz", [8000, 44100, 48000, 192000, 500])
@pytest.mark.parametrize("block", [64, 1000, 1024])
def test_a_chunk_is_whole_blocks_and_as_much_of_a_second_as_fits(rate_hz, block):
    frames = chunk_frames(rate_hz, block)
    assert frames % block == 0
    assert frames > 0
    assert frames <= max(rate_hz, block)
    assert frames + block > rate_hz


@pytest.mark.parametrize("kind", [PluginError, SettingError])
def test_a_plugins_error_says_at_which_stage_and_stays_what_it_is(kind):
    with pytest.raises(kind) as told, placed(stage("/lib/Valve.vst3", name="colour")):
        raise kind("'Drive' cannot be 90 dB", "write less")
    assert type(told.value) is kind
    assert told.value.what == "stage 'colour' (Valve): 'Drive' cannot be 90 dB"
    assert told.value.remedy == "write less"


def test_other_errors_are_left_as_they_are():
    with pytest.raises(AudioFileError) as told, placed(GAIN):
        raise AudioFileError("no such file")
    assert told.value.what == "no such file"


def test_a_mix_that_was_only_touched_is_the_same_mix(tmp_path):
    music = a_mix(tmp_path)
    os.utime(music.path, ns=(1, 1))
    assert unchanged(music).frames == music.source.frames


def test_a_mix_that_nobody_touched_is_not_read_for_every_variant(tmp_path, monkeypatch):
    read: list[object] = []
    monkeypatch.setattr("sweeper.render.room.audio_hash", read.append)
    unchanged(a_mix(tmp_path))
    assert read == []


def test_a_mix_with_other_samples_is_refused(tmp_path):
    music = a_mix(tmp_path)
    a_mix(tmp_path, seed=2)
    with pytest.raises(AudioFileError, match="has changed since the run began"):
        unchanged(music)


def test_surround_and_a_mix_that_is_gone_are_refused(tmp_path):
    with pytest.raises(AudioFileError, match="has 3 channels"):
        unchanged(a_mix(tmp_path, channels=3))
    gone = a_mix(tmp_path)
    gone.path.unlink()
    with pytest.raises(AudioFileError, match=r"mix\.wav"):
        unchanged(gone)


def test_from_the_mix_every_stage_is_rendered_and_a_bypassed_one_is_no_step(pool, tmp_path):
    music = a_mix(tmp_path)
    heard, steps, records, notes = done(
        pool, "rendering:inside", variant_job(music, tmp_path / "r.wav", (GAIN, OUT, LIMITER)))  # fmt: skip
    assert np.array_equal(heard, samples(music.path))
    assert steps == 2
    assert [(record.name, record.bypass) for record in records] == [("gain", False), ("out", True), ("limiter", False)]
    assert notes == ("quiet",)


@pytest.fixture
def stored(pool, tmp_path):
    """A stored step of a gain alone, with a note and sound that the mix does not have."""
    music, key = a_mix(tmp_path), key_of("gain")
    _, _, records, _ = done(pool, "rendering:inside", variant_job(music, tmp_path / "r.wav", (GAIN,)))
    with write_entry(tmp_path / "store", key, AudioFormat(2, 44100)) as entry:
        entry.write(np.full((2, music.source.frames), 0.25, np.float32))
        entry.commit(records, ("the gain hums",), 0.0)
    return music, StoredStep(tmp_path / "store", key, 2)


def test_from_a_stored_step_only_what_is_behind_it_is_loaded(pool, tmp_path, stored):
    """The stored stage is recorded under the name that this variant has for it, with the settings that stood then."""
    music, start = stored
    mine = replace(GAIN, name="trim", label="Clean", output=True)
    job = variant_job(music, tmp_path / "r.wav", (OUT, mine, LIMITER), start=start)
    heard, steps, records, notes = done(pool, "rendering:inside", job)
    assert np.array_equal(heard, np.full((2, music.source.frames), 0.25, np.float32))
    assert steps == 1
    assert [(record.name, record.bypass) for record in records] == [("out", True), ("trim", False), ("limiter", False)]
    assert (records[1].label, records[1].output, records[1].plugin) == ("Clean", True, "Gain")
    assert [one.text for one in records[1].settings] == ["-6.0"]
    assert notes == ("the gain hums", "quiet")


def test_a_stored_step_that_is_cut_short_is_named(pool, tmp_path, stored):
    music, start = stored
    (wav,) = (path for path in start.folder.rglob("*.wav"))
    os.truncate(wav, wav.stat().st_size - 8)
    with pytest.raises(StoreDamaged) as told:
        done(pool, "rendering:inside", step_job(music, start, (OUT, GAIN), start))
    assert told.value.key == start.key


def test_a_setting_that_the_plugin_does_not_have_names_the_stage(pool, tmp_path):
    job = variant_job(a_mix(tmp_path), tmp_path / "r.wav", (GAIN, stage("builtin:Gain", name="second", drive="1 dB")))
    with pytest.raises(SettingError, match=r"^stage 'second' \(builtin:Gain\): no setting is called 'drive'"):
        done(pool, "rendering:inside", job)


def test_a_state_that_was_saved_again_during_the_run_is_refused_and_not_mixed_in(pool, tmp_path):
    """A run whose variants sound of two states, with sheets that tell of one, would be worse than none."""
    limiter, state = stage(packaged("ZaMaximX2"), name="limiter", Threshold="-12 dB"), tmp_path / "s.vstpreset"
    done(pool, "hosting_tasks:saved_state", (limiter, state))
    loaded = replace(limiter, state=state, settings=())
    known = {str(state): KnownFile(state, hashlib.sha256(state.read_bytes()).hexdigest(), stamp_of(state))}
    job = replace(variant_job(a_mix(tmp_path), tmp_path / "render.wav", [loaded]), files=known)
    done(pool, "sweeper.render.task:render_variant", job)
    state.unlink()
    done(pool, "hosting_tasks:saved_state", (replace(limiter, settings=stage("x", Threshold="-1 dB").settings), state))
    (failed,) = pool.map_in_order([Task("one", "rendering:inside", replace(job, target=tmp_path / "b.wav"), "")])
    assert isinstance(failed, Failed)
    assert "s.vstpreset has changed since the run began" in str(failed.error)


def test_a_stored_stage_is_told_as_this_run_asks_for_it():
    before = StageRecord("first", "Gain", "builtin:Gain", "", "", "", "", "", "", "stereo", False, 0.0, 0.0, 0,
                         (Applied("gain db", 0, "", "-6.0 dB", 0.5, "-6"),), ())  # fmt: skip
    now = as_asked(before, replace(GAIN, name="renamed", label="soft", output=True))
    assert (now.name, now.label, now.output, now.settings[0].asked) == ("renamed", "soft", True, "-6 dB")
    assert now.settings[0].raw == 0.5


def test_the_rides_of_a_stored_stage_go_by_the_names_that_this_run_gives_them():
    """The recipe leaves names out: the stored step may be another chain's."""
    spans_s = ((1.0, 2.0),)
    stored = tuple(RideRecord(name, setting, side, "3 dB", True, 0.1, spans_s, 0.05)
                   for name, setting, side in (("x", "input trim", ""), ("y", "Gain", "mid"), ("z", "Gain", "side"),
                                               ("w", "Gain", "mid"), ("v", "Gain", "side")))  # fmt: skip
    before = StageRecord("first", "Gain", "g.vst3", "", "", "", "", "", "", "mid/side", False, 0.0, 0.0, 0, (), (),
                         bus="old", rides=stored)  # fmt: skip
    three_db = Number(3, "dB", "3.0 dB")
    rides = tuple(RideSetup(name, setting, "", three_db, True, spans_s, 0.05)
                  for name, setting in (("trim", "input trim"), ("one", "Gain"), ("two", "Gain")))  # fmt: skip
    setup = StageSetup("first", "g.vst3", None, Channels.MID_SIDE, (), bus="new", instances=1, rides=rides,
                       latency=Number(64, "samples", "64 samples"))  # fmt: skip
    now = as_asked(before, setup)
    assert [(ride.name, ride.side) for ride in now.rides] == [
        ("trim", ""), ("one", "mid"), ("one", "side"), ("two", "mid"), ("two", "side")]  # fmt: skip
    assert {ride.amount for ride in now.rides} == {"3.0 dB"}
    assert (now.bus, now.instances, now.latency) == ("new", 1, "64 samples")
