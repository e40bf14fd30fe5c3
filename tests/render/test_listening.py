"""A variant tried on excerpts: what it says of the whole, held against the whole and against the excerpts cut out."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile
from plugin_fixtures import done, stage
from rendering import variant_job
from sounding import parts

from sweeper.audio import AudioFormat, audio_hash, inspect
from sweeper.errors import AudioFileError
from sweeper.meter import gating_blocks, measure
from sweeper.meter.excerpts import LISTENED, LONG, pieces
from sweeper.plan.reach import Direction, Ending
from sweeper.quantities import Measurements
from sweeper.render.job import GoalOrder, Job, Look, ReachOrder
from sweeper.render.jobs import mix_file
from sweeper.render.orders import Measured

TASK, RENDER = "sweeper.render.listen_task:listen", "sweeper.render.task:render_variant"
GAIN = stage("builtin:Gain", name="gain", gain_db="-3 dB")
GLUE = stage("builtin:Compressor", name="glue", threshold_db="-26 dB", ratio="2")
LIMITER = stage("builtin:BrickwallLimiter", name="limiter")
RATE_HZ = 8000


def mixed(folder: Path, seconds: int = 64, rate_hz: int = RATE_HZ):
    file = inspect(parts(folder / "mix.wav", seconds, rate_hz))
    return mix_file(Measured(file, Measurements({}), audio_hash(file)))


@pytest.fixture(scope="module")
def music(tmp_path_factory):
    return mixed(tmp_path_factory.mktemp("music"))


def louder(goal_lufs: float) -> ReachOrder:
    goal = GoalOrder("loudness_lufs", goal_lufs, 1, 0.1, False, "loudness")
    return ReachOrder(1, "input trim", "", Direction.RAISE, (goal,))


@pytest.mark.parametrize(("rate_hz", "off_lu"), [(8000, 0.25), pytest.param(44100, 0.03, marks=pytest.mark.long)])
def test_a_gain_is_told_as_the_whole_and_as_its_excerpts_cut_out(pool, tmp_path, rate_hz, off_lu):
    """Levels of the whole by pyloudnorm and numpy; what excerpts show by themselves by cutting them out here.

    off_lu: at 8,000 Hz the filter of pyloudnorm bends by 0.21 LU, at 44,100 by less than 0.01.
    """
    (tmp_path / "own").mkdir()
    music = mixed(tmp_path / "own", rate_hz=rate_hz)
    told = done(pool, TASK, variant_job(music, tmp_path / "x.wav", (GAIN,)))
    whole, _ = soundfile.read(music.path, always_2d=True)
    whole *= 10 ** (-3 / 20)
    values = told.measurements.values
    loudness = pyloudnorm.Meter(rate_hz, filter_class="DeMan").integrated_loudness(whole)
    assert values["loudness_lufs"] == pytest.approx(loudness, abs=off_lu)
    assert values["rms_dbfs"] == pytest.approx(20 * np.log10(np.sqrt(np.mean(whole**2))), abs=0.02)
    assert values["sample_peak_dbfs"] == pytest.approx(20 * np.log10(np.abs(whole).max()), abs=0.001)
    samples = np.ascontiguousarray(whole.T.astype(np.float32))
    tenth, format = rate_hz // 10, AudioFormat(2, rate_hz)
    seen = gating_blocks.finish(gating_blocks.advance(gating_blocks.start(format), samples))
    cut = [samples[:, p.first * tenth : (p.first + p.inside) * tenth] for p in pieces(seen, LISTENED, LONG)]
    expected = measure(np.concatenate(cut, axis=1), format).values
    for key in ("crest_loud_db", "psr_db", "correlation_worst", "side_mid_db", "tilt_db", "mono_loss_lu"):
        assert values[key] == pytest.approx(expected[key], abs=1e-3), key
    full = measure(samples, format).values
    assert values["loudness_lufs"] == pytest.approx(full["loudness_lufs"], abs=0.02)
    for key in ("momentary_max_lufs", "short_term_max_lufs", "loudness_range_lu"):
        assert values[key] == pytest.approx(full[key], abs=0.3), key
    assert (told.passes, told.audio_sha256, list(tmp_path.iterdir())) == (0, "", [tmp_path / "own"])
    assert told.excerpts == pytest.approx(28 / 64, abs=0.06), "played once, with some short pieces for their peaks"
    assert not {"overs", "noise_floor_dbfs"} & values.keys()


def test_a_reach_lands_on_what_the_whole_comes_to_there(pool, tmp_path, music):
    told = done(pool, TASK, variant_job(music, tmp_path / "x.wav", (GLUE, LIMITER), (louder(-13.0),)))
    assert told.solved[0].ending is Ending.ON_TARGET
    assert told.measurements["loudness_lufs"] == pytest.approx(-13.0, abs=0.1)
    set_so = stage("builtin:BrickwallLimiter", name="limiter", input_trim=f"{told.solved[0].at} dB")
    full = done(pool, RENDER, variant_job(music, tmp_path / "render.wav", (GLUE, set_so)))
    assert told.measurements["loudness_lufs"] == pytest.approx(full.measurements["loudness_lufs"], abs=0.25)
    assert told.solved[0].setting == "limiter.input trim"
    assert told.solved[0].slope == pytest.approx(0.8, abs=0.3)


@pytest.mark.long
def test_what_is_out_of_reach_is_said_to_be(pool, tmp_path, music):
    told = done(pool, TASK, variant_job(music, tmp_path / "x.wav", (GLUE, LIMITER), (louder(5.0),)))
    assert told.solved[0].ending is Ending.OUT_OF_REACH
    assert told.solved[0].why


@pytest.mark.long
def test_a_stage_is_looked_into_as_in_a_render(pool, tmp_path, music):
    job = variant_job(music, tmp_path / "x.wav", (GLUE, LIMITER))
    job = Job(**{**vars(job), "looks": (Look(0, music=True, tone=False),), "unseen": {"air.residue_db": "not there"}})
    told, full = done(pool, TASK, job).measurements, done(pool, RENDER, job).measurements
    assert told["glue.attenuation_db"] > 0.5
    assert told["glue.attenuation_db"] == full["glue.attenuation_db"]
    assert (told["air.residue_db"], told.reasons["air.residue_db"]) == (None, "not there")


def test_a_mix_without_excerpts_is_refused(pool, tmp_path):
    (tmp_path / "short").mkdir()
    with pytest.raises(AudioFileError, match="too short or too soft for excerpts"):
        done(pool, TASK, variant_job(mixed(tmp_path / "short", 50), tmp_path / "x.wav", (GAIN,)))


@pytest.mark.parametrize("bypassed", [1, 2])
def test_a_chain_that_begins_with_what_is_bypassed_is_tried(pool, tmp_path, music, bypassed):
    """With nothing to solve nothing says where to begin, and nothing may be heard at all."""
    chain = tuple(replace(each, bypass=number < bypassed) for number, each in enumerate((GLUE, GAIN)))
    told = done(pool, TASK, variant_job(music, tmp_path / "x.wav", chain)).measurements
    mix, _ = soundfile.read(music.path, always_2d=True)
    gain_db = -3 if bypassed == 1 else 0
    outside = measure((mix * 10 ** (gain_db / 20)).T, AudioFormat(2, RATE_HZ))["loudness_lufs"]
    assert told["loudness_lufs"] == pytest.approx(outside, abs=0.01)
