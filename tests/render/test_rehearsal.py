"""Excerpts through a chain: what they foretell of a full render, and that the store has no say in it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import soundfile
from plugin_fixtures import done, packaged, stage
from rendering import a_mix, key_of, step_job, variant_job

from sweeper.audio import audio_hash, inspect
from sweeper.chain.model import Number
from sweeper.host.setup import RideSetup
from sweeper.plan.reach import Direction, Ending
from sweeper.quantities import Measurements
from sweeper.render.job import GoalOrder, Look, ReachOrder, StoredStep
from sweeper.render.jobs import mix_file
from sweeper.render.orders import Measured

TASK = "sweeper.render.task:render_variant"
FORETOLD = ("loudness_lufs", "rms_dbfs", "crest_db", "plr_db", "true_peak_dbtp", "sample_peak_dbfs")
COLOUR = stage("builtin:Compressor", name="colour", threshold_db="-24 dB", ratio="2")
TILT = stage("builtin:HighShelfFilter", name="tilt", gain_db="-3 dB", cutoff_frequency_hz="4000 Hz")
LIMITER = stage("builtin:BrickwallLimiter", name="limiter")
GAIN = stage("builtin:Gain", name="gain", gain_db="3 dB")
CREST = GoalOrder("crest_db", 4.0, -1, 0.1, True, "crest >= 4 dB")


@pytest.fixture(scope="module")
def music(tmp_path_factory):
    """A minute and a half in parts of different loudness: quiet, loud, in between, with beats."""
    rate_hz, folder = 44100, tmp_path_factory.mktemp("music")
    drawn = np.random.default_rng(5)
    parts = np.repeat([0.03, 0.12, 0.05, 0.2, 0.09, 0.16, 0.02, 0.14, 0.22], 10 * rate_hz)
    beat = np.exp(-((np.arange(parts.size) % (rate_hz // 2)) / (0.1 * rate_hz))) + 0.25
    samples = drawn.standard_normal((parts.size, 2)) * (parts * beat)[:, None]
    soundfile.write(folder / "mix.wav", np.clip(samples, -0.98, 0.98), rate_hz, subtype="PCM_24")
    file = inspect(folder / "mix.wav")
    return mix_file(Measured(file, Measurements({}), audio_hash(file)))


def louder(goal_lufs, number, *more):
    return ReachOrder(number, "input trim", "", Direction.RAISE,
                      (GoalOrder("loudness_lufs", goal_lufs, 1, 0.1, False, "loudness"), *more))  # fmt: skip


def told(pool, job, *places):
    return done(pool, "rehearsing:told", (job, places))


def test_what_is_foretold_is_what_a_full_render_measures_or_near_it(pool, tmp_path, music):
    chain, places = (COLOUR, TILT, LIMITER), (0.0, 6.0, 12.0)
    job = variant_job(music, tmp_path / "render.wav", chain, (louder(-12.0, 2, CREST),))
    found = told(pool, job, *places)
    assert found.worth
    assert found.left >= len(places)
    assert 0 < found.passes <= 0.5
    for at, foretold in zip(places, found.foretold, strict=True):
        set_so = replace(LIMITER, input_trim_db=at)
        (tmp_path / str(at)).mkdir()
        full = done(pool, TASK, variant_job(music, tmp_path / str(at) / "render.wav", (COLOUR, TILT, set_so)))
        for key in FORETOLD if at == 12.0 else ("rms_dbfs",):  # peaks once the limiter holds them
            peak = key in ("true_peak_dbtp", "plr_db")  # the highest of a minute of noise is not in a few seconds of it
            assert foretold.values[key] == pytest.approx(full.measurements[key], abs=2.0 if peak else 1.0), (key, at)
        assert foretold.values["loudness_lufs"] == pytest.approx(full.measurements["loudness_lufs"], abs=0.3)


def test_a_gain_is_foretold_as_it_is(pool, tmp_path, music):
    job = variant_job(music, tmp_path / "render.wav", (GAIN,), (louder(-12.0, 0),))
    full = done(pool, TASK, variant_job(music, tmp_path / "render.wav", (GAIN,)))
    (foretold,) = told(pool, job, 0.0).foretold
    assert foretold.values["loudness_lufs"] == pytest.approx(full.measurements["loudness_lufs"], abs=0.001)


def test_the_store_has_no_say_in_it(pool, tmp_path, music):
    chain = (COLOUR, TILT, LIMITER)
    stored = StoredStep(tmp_path / "store", key_of("two"), 2)
    done(pool, "sweeper.render.step_task:render_step", step_job(music, stored, chain[:2]))
    job = variant_job(music, tmp_path / "render.wav", chain, (louder(-12.0, 2),))
    from_mix, from_store = told(pool, job, 3.0, 8.0), told(pool, replace(job, start=stored), 3.0, 8.0)
    assert from_mix == from_store


def test_a_reach_lands_in_one_or_two_full_renders_and_says_what_excerpts_took(pool, tmp_path, music):
    order = louder(-11.0, 1, CREST)
    made = done(pool, TASK, variant_job(music, tmp_path / "render.wav", (COLOUR, LIMITER), (order,)))
    assert made.solved[0].ending is Ending.ON_TARGET
    assert made.measurements["loudness_lufs"] == pytest.approx(-11.0, abs=0.1)
    assert made.passes <= 2
    assert 0 < made.excerpts <= 0.5
    assert made.steps == 2 * made.passes


def test_stages_on_a_bus_are_played_together(pool, tmp_path, music):
    chain = (replace(COLOUR, bus="lift"), replace(LIMITER, name="fader", path="", bus="lift", is_fader=True,
                                                  output_trim_db=-9.0, settings=()), LIMITER)  # fmt: skip
    order = ReachOrder(1, "output trim", "", Direction.RAISE,
                       (GoalOrder("loudness_lufs", -15.0, 1, 0.1, False, "loudness"),))  # fmt: skip
    made = done(pool, TASK, variant_job(music, tmp_path / "render.wav", chain, (order,)))
    assert made.solved[0].ending is Ending.ON_TARGET
    assert made.passes <= 2
    assert made.excerpts > 0


@pytest.mark.parametrize("why", ["short", "ridden", "unseen", "rate"])
def test_what_cannot_be_foretold_is_solved_without(pool, tmp_path, music, why):
    limiter, order = LIMITER, louder(-14.0, 0)
    if why == "ridden":
        ride = RideSetup("up", "output trim", "", Number(1.0, "dB", "1 dB"), True, ((0.5, 1.0),), 0.1)
        limiter = replace(LIMITER, rides=(ride,))
    if why == "unseen":
        order = louder(-14.0, 0, GoalOrder("limiter.attenuation_db", 9.0, 1, 0.1, True, "limiter.attenuation <= 9 dB"))
    if why == "short":
        music = a_mix(tmp_path, 20.0)
    if why == "rate":
        music = a_mix(tmp_path, 2.0, rate_hz=22055)
    job = variant_job(music, tmp_path / "render.wav", (limiter,), (order,))
    if why == "unseen":
        job = replace(job, unseen={"limiter.attenuation_db": "it is bypassed"})
    found = done(pool, "rehearsing:told", (job, ())) if why != "rate" else None
    assert found is None or not found.worth or found.left == 0
    if why == "rate":
        assert done(pool, TASK, job).excerpts == 0.0


def test_what_a_stage_does_is_foretold_by_the_loudest_seconds(pool, tmp_path, music):
    look = Look(1, music=True, tone=False)
    goal = GoalOrder("limiter.attenuation_db", 3.0, 1, 0.1, False, "attenuation")
    order = ReachOrder(1, "input trim", "", Direction.RAISE, (goal,), measured=1)
    job = replace(variant_job(music, tmp_path / "render.wav", (COLOUR, LIMITER), (order,)), looks=(look,),
                  looks_each_pass=(look,))  # fmt: skip
    found = told(pool, job, 12.0, 18.0)
    assert found.worth
    assert found.left >= 3
    full = []
    for at, foretold in zip((12.0, 18.0), found.foretold, strict=True):
        place = tmp_path / f"{at:g}"
        place.mkdir()
        there = replace(job, stages=(COLOUR, replace(LIMITER, input_trim_db=at)), reach=(), target=place / "render.wav")
        full.append(done(pool, TASK, there).measurements["limiter.attenuation_db"])
        # the half minute that a full render looks into holds parts that are less loud
        assert full[-1] < foretold.values["limiter.attenuation_db"] < full[-1] + 2.5
    assert full[1] > full[0] + 2 > 2.5
    made = done(pool, TASK, job)
    assert made.solved[0].ending is Ending.ON_TARGET
    assert made.measurements["limiter.attenuation_db"] == pytest.approx(3.0, abs=0.1)
    assert made.passes <= 3
    assert 0 < made.excerpts <= 0.9


@pytest.mark.long
def test_a_packaged_limiter_with_a_delay_is_foretold_in_place(pool, tmp_path, music):
    limiter = stage(packaged("ZaMaximX2"), name="limiter")
    order = ReachOrder(0, "Threshold", "", Direction.LOWER,
                       (GoalOrder("loudness_lufs", -12.0, 1, 0.1, False, "loudness"),))  # fmt: skip
    job = variant_job(music, tmp_path / "render.wav", (limiter,), (order,))
    (foretold,) = told(pool, job, -9.0).foretold
    full = done(pool, TASK, variant_job(music, tmp_path / "render.wav", (stage(packaged("ZaMaximX2"), name="limiter",
                                                                               Threshold="-9 dB"),)))  # fmt: skip
    assert foretold.values["loudness_lufs"] == pytest.approx(full.measurements["loudness_lufs"], abs=0.3)
