"""Rides, blend, delays said by the chain file, tails and buses: on plugins of known law."""

from __future__ import annotations

from dataclasses import replace

import hosting_tasks
import numpy as np
import pytest
from hosting_tasks import Clip
from plugin_builder import build
from plugin_fixtures import done, packaged, stage

from sweeper.chain.model import Number
from sweeper.host.setup import RideSetup, StageSetup

FRAMES = 44100


def db(value: float) -> Number:
    return Number(value, "dB", f"{value:g} dB")


def ride(setting: str, amount, spans=((0.4, 0.6),), ramp_s=0.1, relative=True, side="") -> RideSetup:
    return RideSetup("lift", setting, side, amount, relative, spans, ramp_s)


def samples(pool, *stages: StageSetup, frames: int = FRAMES, **how) -> np.ndarray:
    return done(pool, "hosting_tasks:streamed", Clip(stages, frames=frames, **how))


def source(frames: int = FRAMES) -> np.ndarray:
    return hosting_tasks.clip_samples(Clip((), frames=frames))


def gains(out: np.ndarray, heard: np.ndarray) -> np.ndarray:
    return out[0].astype(np.float64) / heard[0]


@pytest.fixture(scope="module")
def fine_gain(tmp_path_factory) -> str:
    """A gain plugin of 0 dB."""
    return str(build("gain", tmp_path_factory.mktemp("gain"), GAIN_DB=0.0))


@pytest.mark.parametrize("setting", ["input trim", "output trim"])
def test_a_ridden_trim_moves_with_every_sample_and_is_there_on_time(pool, fine_gain, setting):
    one = replace(stage(fine_gain), rides=(ride(setting, db(6.0)),))
    gain_db = 20 * np.log10(gains(samples(pool, one), source()))
    at = np.arange(FRAMES) / 44100
    wanted = np.interp(at, [0.3, 0.4, 0.6, 0.7], [0, 6, 6, 0])
    assert np.abs(gain_db - wanted)[at != 0.6].max() < 0.002
    assert np.abs(np.diff(gain_db)).max() < 6 / 4410 * 1.2  # 6 dB in 100 ms: no step anywhere


def test_rides_that_add_up_beyond_a_trims_range_end_at_its_end(pool, fine_gain):
    up = ride("output trim", db(45.0), ramp_s=0.0)
    one = replace(stage(fine_gain), rides=(up, replace(up, name="more")))
    ratio = gains(samples(pool, one, level=1e-3), source() * np.float32(1e-3 / 0.2))
    at = np.arange(FRAMES) / 44100
    assert ratio[(at > 0.41) & (at < 0.59)] == pytest.approx(1000, rel=1e-3)
    assert ratio[at < 0.39] == pytest.approx(1, rel=1e-3)


def test_a_ride_of_a_plugins_gain_is_on_time_and_never_steps_further_than_its_ramp_does_in_a_block(pool):
    """ZamEQ2's master gain: the ride is the ratio of a render with it to one without. 6 dB in 100 ms, blocks of 256."""
    flat = stage(packaged("ZamEQ2"), channels="left/right")
    ridden = replace(flat, rides=(ride("Master Gain", db(6.0)),))
    ratio_db = 20 * np.log10(np.abs(samples(pool, ridden)[0] / samples(pool, flat)[0]))
    block_db = np.median(ratio_db[: FRAMES // 256 * 256].reshape(-1, 256), axis=1)
    start_s = np.arange(len(block_db)) * 256 / 44100
    end_s = start_s + 256 / 44100
    assert np.abs(block_db[end_s <= 0.3]).max() < 0.01
    assert np.abs(block_db[(end_s > 0.4) & (start_s < 0.6)] - 6).max() < 0.02
    assert np.abs(block_db[start_s >= 0.7]).max() < 0.01
    assert np.abs(np.diff(block_db)).max() < 1.05 * 6 * 256 / 4410


def test_a_ride_of_what_goes_into_a_plugins_delay_is_there_in_time_and_stays_to_the_end(pool, tmp_path):
    """The probe drives what goes in; that comes out 2047 frames later."""
    flat = stage(str(build("limiter", tmp_path, AHEAD=2047)), Drive="0", Ceiling="0")
    up = replace(flat, rides=(ride("Drive", db(6.0), ramp_s=0.0),))
    ratio_db = 20 * np.log10(np.abs(samples(pool, up, level=0.03)[0]) / np.abs(samples(pool, flat, level=0.03)[0]))
    at, most_s = np.arange(FRAMES) / 44100, (2047 + 256) / 44100
    assert ratio_db[(at >= 0.4) & (at < 0.6)] == pytest.approx(6.0, abs=0.01)
    assert ratio_db[(at < 0.4 - most_s) | (at > 0.6 + most_s)] == pytest.approx(0.0, abs=0.01)


def test_blend_is_linear_in_amplitude(pool, tmp_path):
    path = build("gain", tmp_path, GAIN_DB=12.0)
    out = samples(pool, replace(stage(path), blend=0.25))
    assert np.allclose(gains(out, source()), 0.75 + 0.25 * 10 ** (12 / 20), rtol=1e-5)


def test_polarity_is_turned_round_before_the_blend(pool, fine_gain):
    assert np.allclose(samples(pool, replace(stage(fine_gain), inverted=True)), -source())
    both = samples(pool, replace(stage(fine_gain), inverted=True, blend=0.5))
    assert np.abs(both).max() < 1e-7


def test_a_plugin_that_comes_out_upside_down_cancels_what_it_is_blended_with_and_that_is_said(pool):
    """ZamTube turns the polarity (a common-cathode valve does)."""
    tube = replace(stage(packaged("ZamTube"), channels="left/right", name="tube"), blend=0.5)
    (note,) = done(pool, "hosting_tasks:notes", Clip((tube,), frames=FRAMES))
    assert note.startswith("'tube' (ZamTube) comes out upside down") and "polarity: inverted" in note
    assert done(pool, "hosting_tasks:notes", Clip((replace(tube, inverted=True),), frames=FRAMES)) == ()
    loud = [float(np.abs(samples(pool, replace(tube, inverted=turned))).mean()) for turned in (False, True)]
    assert loud[1] > 3 * loud[0]


def test_blend_holds_against_dry_that_waits_for_the_plugins_delay(pool, probes):
    out = samples(pool, replace(stage(probes["delay_honest"]), blend=0.5))
    assert np.abs(out - source()).max() < 1e-6


def test_no_blend_is_the_input_and_a_ride_of_blend_brings_the_plugin_in(pool, tmp_path):
    path = build("gain", tmp_path, GAIN_DB=-120.0)
    out = samples(pool, replace(stage(path), blend=0.0, rides=(ride("blend", Number(100, "%", "100 %"), ramp_s=0.0),)))
    gain = gains(out, source())
    inside = slice(round(0.4 * 44100) + 1, round(0.6 * 44100) - 1)
    assert np.abs(gain[inside]).max() < 1e-4
    assert np.abs(np.delete(gain, np.r_[17639:26461]) - 1).max() < 1e-5


@pytest.mark.parametrize("chunk", [1000, 32768])
@pytest.mark.parametrize(("true", "reported"), [(441, 64), (64, 441), (441, 441), (0, 300)])
def test_a_delay_said_by_the_chain_file_is_taken_out_and_nothing_is_lost(pool, tmp_path, true, reported, chunk):
    path = build("delay_lying", tmp_path, DELAY_FRAMES=true, REPORTED_FRAMES=reported)
    out = samples(pool, replace(stage(path), latency=Number(true, "samples", f"{true} samples")), chunk=chunk)
    assert np.array_equal(out, source())


def test_a_delay_may_be_said_in_milliseconds(pool, tmp_path):
    path = build("delay_lying", tmp_path, DELAY_FRAMES=441, REPORTED_FRAMES=0)
    assert np.array_equal(samples(pool, replace(stage(path), latency=Number(10, "ms", "10 ms"))), source())


@pytest.mark.parametrize("frames", [0, 1, 480, 1000])
def test_a_delay_that_changes_with_a_setting_is_taken_out_as_it_is_reported_then(pool, probes, frames):
    one = stage(probes["delay_set"], **{"Look-ahead": f"{frames} frames"})
    assert np.array_equal(samples(pool, one), source())
    quiet = {"level": 0.02}
    out = samples(pool, stage(packaged("ZaMaximX2"), name="later", Threshold="0 dB"), *bus("lift", 0.0, one), **quiet)
    later = samples(pool, stage(packaged("ZaMaximX2"), name="later", Threshold="0 dB"), **quiet)
    assert np.abs(out - 2 * later).max() < 1e-6


def test_bypass_keeps_everything_in_time(pool, probes):
    heard = samples(pool, stage(probes["delay_honest"], name="a"), replace(stage(packaged("ZaMaximX2")), bypass=True))
    assert np.array_equal(heard, source())


def test_a_tail_makes_the_sound_longer_for_what_rings_on(pool):
    reverb = replace(stage("builtin:Reverb"), tail_s=0.5)
    out = samples(pool, reverb, stage(packaged("ZaMaximX2"), name="b", Threshold="0 dB"))
    short = samples(pool, replace(reverb, tail_s=0.0), stage(packaged("ZaMaximX2"), name="b", Threshold="0 dB"))
    assert out.shape[1] == FRAMES + 22050 and short.shape[1] == FRAMES
    assert np.array_equal(out[:, :FRAMES], short)
    assert np.abs(out[:, FRAMES:]).max() > 1e-4


def test_tails_add_up_along_the_chain(pool, fine_gain):
    two = [replace(stage(fine_gain, name=name), tail_s=seconds) for name, seconds in (("a", 0.25), ("b", 0.5))]
    out = samples(pool, *two)
    assert out.shape[1] == FRAMES + round(0.75 * 44100)
    assert np.array_equal(out[:, :FRAMES], source()) and not out[:, FRAMES:].any()


def bus(name: str, level_db: float, *stages: StageSetup, **fader) -> tuple[StageSetup, ...]:
    own = tuple(replace(one, bus=name) for one in stages)
    fade = StageSetup(name, "", None, stages[0].channels, (), output_trim_db=level_db, bus=name, is_fader=True)
    return (*own, replace(fade, **fader))


@pytest.mark.parametrize("chunk", [1000, 32768])
def test_a_bus_is_added_wet_to_the_sample_whatever_its_delay(pool, probes, fine_gain, chunk):
    slow = [stage(probes["delay_honest"], name="slow"), stage(packaged("ZaMaximX2"), name="later", Threshold="0 dB")]
    quiet = {"level": 0.02}
    later = samples(pool, slow[1], chunk=chunk, **quiet)
    out = samples(pool, stage(fine_gain, name="in"), *bus("lift", -6.0, *slow), *bus("more", -20.0, stage(fine_gain)),
                  chunk=chunk, **quiet)  # fmt: skip
    dry = hosting_tasks.clip_samples(Clip((), frames=FRAMES, **quiet))
    wanted = dry + later * np.float32(10 ** (-6 / 20)) + dry * np.float32(0.1)
    assert np.abs(out - wanted).max() < 1e-6
    assert np.abs(later - dry).max() < 1e-6


def test_the_output_stages_come_after_the_buses(pool, tmp_path, fine_gain):
    louder = stage(build("gain", tmp_path, GAIN_DB=6.0), name="out")
    out = samples(pool, *bus("lift", 0.0, stage(fine_gain)), replace(louder, output=True))
    assert np.allclose(gains(out, source()), 2 * 10 ** (6 / 20), rtol=1e-5)


def test_a_buses_level_is_ridden_like_any_trim(pool, fine_gain):
    rides = (ride("output trim", db(-60.0), relative=False, ramp_s=0.0),)
    gain = gains(samples(pool, *bus("lift", 0.0, stage(fine_gain), rides=rides)), source())
    assert np.abs(gain[20000:26000] - 1).max() < 0.002
    assert np.abs(gain[:17000] - 2).max() < 1e-5


def test_a_buss_longest_tail_lengthens_the_sound(pool, fine_gain):
    long, short = (replace(stage(fine_gain), tail_s=tail_s) for tail_s in (0.2, 0.1))
    parts = (*bus("a", 0.0, long), *bus("b", 0.0, short))
    assert samples(pool, *parts).shape[1] == FRAMES + 8820


def test_mid_side_with_a_plugin_that_does_nothing_comes_back_to_the_bit_that_float32_has(pool, fine_gain):
    """L = M + S and R = M - S: what is left is rounding, below -140 dBFS (EBU R 128 has no value; our own bound)."""
    out = samples(pool, stage(fine_gain, channels="mid/side"), level=0.1)
    dry = hosting_tasks.clip_samples(Clip((), frames=FRAMES, level=0.1))
    assert 20 * np.log10(np.abs(out - dry).max() + 1e-12) <= -140


def test_a_bypassed_mid_side_stage_is_exact(pool, fine_gain):
    assert np.array_equal(samples(pool, replace(stage(fine_gain, channels="mid/side"), bypass=True)), source())
