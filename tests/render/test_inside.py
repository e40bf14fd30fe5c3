"""What a look inside a chain tells of plugins of known law, on their own input."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from plugin_builder import build
from plugin_fixtures import done, packaged, stage
from rendering import key_of, mix_file, step_job
from scipy.ndimage import minimum_filter1d, uniform_filter1d
from scipy.signal import get_window

from sweeper.audio import audio_hash, inspect
from sweeper.chain.model import Number
from sweeper.errors import PluginError
from sweeper.host.setup import RideSetup, StageSetup
from sweeper.meter.quiet_copy import LOST, NO_SOUND, NOISY
from sweeper.quantities import Measurements
from sweeper.render.inside import BYPASSED, NOTHING_IN, RIDES_REST, Inside, InsideOrder, Seen
from sweeper.render.job import Look, MixFile, StoredStep
from sweeper.render.orders import Measured

RATE_HZ = 44100
SECONDS = 3


def music() -> np.ndarray:
    """Noise with beats, peaks over full scale after 6 dB; (2, frames)."""
    rng = np.random.default_rng(8)
    frames = SECONDS * RATE_HZ
    beat = np.exp(-((np.arange(frames) % (RATE_HZ // 2)) / (0.08 * RATE_HZ))) + 0.3
    return np.float32(0.14 * (rng.standard_normal(frames) + 0.4 * rng.standard_normal((2, frames))) * beat)


def held(samples: np.ndarray, path: Path) -> MixFile:
    soundfile.write(path, samples.T, RATE_HZ, subtype="FLOAT")
    file = inspect(path)
    return mix_file(Measured(file, Measurements({}), audio_hash(file)))


@pytest.fixture(scope="module")
def mix(tmp_path_factory) -> MixFile:
    return held(music(), tmp_path_factory.mktemp("mix") / "mix.wav")


def looked(pool, mix: MixFile, stages, *looks: Look, **how) -> Inside:
    found = done(pool, "sweeper.render.inside_task:look_inside", InsideOrder(mix, tuple(stages), looks, 60.0, **how))
    assert isinstance(found, Inside)
    return found


def seen(pool, mix: MixFile, *stages: StageSetup, look: Look | None = None) -> Seen:
    """One look, at the last of the stages unless another is given."""
    (one,) = looked(pool, mix, stages, look or Look(len(stages) - 1, tone=False)).seen
    return one


def reductions(by_frame: np.ndarray, sound: np.ndarray) -> tuple[float, float, float]:
    """95th percentile, median, 99.9th percentile of a law's own gain, meant over Hann windows by the sound's power.

    Of what is looked at: all but the first tenth.
    """
    by_frame, sound = by_frame[by_frame.size // 10 :], sound[:, by_frame.size // 10 :]
    power = np.square(sound.astype(float)).sum(axis=0)
    hop = round(0.005 * RATE_HZ)
    windowed = [np.convolve(each, get_window("hann", 2 * hop), "valid")[::hop] for each in (by_frame * power, power)]
    return tuple(np.percentile(-20 * np.log10(windowed[0] / windowed[1]), [95, 50, 99.9], method="nearest"))


def test_an_equaliser_leaves_nothing_over_and_attenuates_nothing(pool, mix):
    bell = stage(packaged("ZamEQ2"), channels="left/right", **{"Boost/Cut 1": "6 dB"})
    found = seen(pool, mix, bell).music
    assert found.residue_db <= -120
    assert abs(found.attenuation_db) <= 0.01
    assert abs(found.most_db) <= 0.01
    assert found.remarks == (LOST,)


def test_a_gain_leaves_nothing_over(pool, mix, probes):
    found = seen(pool, mix, stage(probes["gain"], Gain="-7.3 dB")).music
    assert found.residue_db <= -140
    assert abs(found.attenuation_db) < 1e-4


def test_a_compressor_attenuates_as_its_law_says(pool, mix, probes):
    """The law of tests/plugins/compressor.cpp, worked out once more here, sample by sample."""
    sound = music()
    asked = np.maximum(0, (20 * np.log10(np.abs(sound).max(axis=0)) + 20) * (1 - 1 / 4))
    kept, reduction = math.exp(-1 / (0.1 * RATE_HZ)), np.zeros(sound.shape[1])
    for frame in range(sound.shape[1]):
        reduction[frame] = max(asked[frame], reduction[frame - 1] * kept if frame else 0.0)
    found = seen(pool, mix, stage(probes["compressor"], Threshold="-20 dB", Ratio="4", Makeup="5 dB")).music
    told = (found.attenuation_db, found.median_db, found.most_db)
    assert told == pytest.approx(reductions(10 ** (-reduction / 20), sound), abs=0.1)
    assert found.median_db > 3, "or there is nothing to tell"


def test_steady_reduction_is_told_to_the_hundredth(pool, tmp_path, probes):
    """Noise of +a and -a alone at -4 dBFS: 16 dB over the threshold at 4:1 are 12 dB of reduction."""
    signs = np.random.default_rng(3).choice([-1.0, 1.0], (2, 2 * RATE_HZ))
    steady = held(signs * 10 ** (-4 / 20), tmp_path / "steady.wav")
    found = seen(pool, steady, stage(probes["compressor"], Threshold="-20 dB", Ratio="4")).music
    assert (found.attenuation_db, found.median_db, found.most_db) == pytest.approx((12,) * 3, abs=0.01)
    assert found.working_share == 1.0


def test_a_limiter_attenuates_as_its_law_says_and_leaves_less_over_than_a_clipper(pool, mix, probes):
    """The law of tests/plugins/limiter.cpp, worked out once more here: least in 256 frames, mean over 256."""
    limiter, clipper = stage(probes["limiter"], Drive="9 dB"), stage("builtin:Clipping", threshold_db="0 dB")
    driven = 10 ** (9 / 20) * music()
    wanted = np.minimum(1, 1 / np.abs(driven).max(axis=0))
    given = uniform_filter1d(minimum_filter1d(wanted, 256, origin=-128), 256, origin=127)
    limited = seen(pool, mix, limiter).music
    told = (limited.attenuation_db, limited.median_db, limited.most_db)
    assert told == pytest.approx(reductions(given, driven), abs=0.1)
    assert limited.attenuation_db > 1, "or there is nothing to tell"
    clipped = [seen(pool, mix, replace(clipper, input_trim_db=drive)).music.residue_db for drive in (3.0, 9.0, 15.0)]
    assert clipped == sorted(clipped)
    assert limited.residue_db < clipped[1] - 6


def test_what_a_stage_does_until_it_is_at_rest_is_not_laid_to_the_music(pool, tmp_path):
    """Debian's ZamTube takes 0.2 s after a reset, which a quiet copy lifts to 30 dB over the music."""
    longer = held(np.tile(music(), (1, 4)), tmp_path / "longer.wav")
    found = seen(pool, longer, stage(packaged("ZamTube"), "left/right", Tube_Drive="3")).music
    assert found.floor_db < found.residue_db - 10
    assert (found.most_db, found.working_share) == (pytest.approx(0, abs=0.3), 0)
    assert found.remarks == ()


def test_noise_of_a_plugins_own_is_told(pool, mix, probes):
    found = seen(pool, mix, stage(probes["noise_process"])).music
    assert NOISY in found.remarks
    assert found.floor_db > found.residue_db - 3
    assert abs(found.attenuation_db) < 0.3


@pytest.mark.parametrize("channels", ["stereo", "left/right", "mid", "side"])
def test_harmonics_are_those_of_a_tone_at_the_level_of_the_programme(pool, mix, probes, channels):
    """y = x + 0.2 x^2: H2 is 0.1 A times the tone of amplitude A: the RMS of what the plugin hears, times 1.41."""
    left, right = music().astype(float)
    hears = {"stereo": [left, right], "left/right": [left], "mid": [(left + right) / 2], "side": [(left - right) / 2]}
    amplitude = math.sqrt(2 * np.mean(np.square(hears[channels])))
    shaper = stage(probes["shaper"], channels=channels, Second="0.2")
    one = seen(pool, mix, shaper, look=Look(0, music=False))
    assert one.tone.dbc[0] == pytest.approx(20 * math.log10(0.1 * amplitude), abs=0.1)
    assert one.tone.dbc[1:] == (None,) * 7
    assert one.measured["distortion_pct"] == pytest.approx(10 * amplitude, rel=0.02)
    assert one.music is None


def test_a_tone_of_a_level_that_is_asked_for(pool, mix, probes):
    """y = x + 0.4 x^3, A = 0.5: H3 is 0.4 A^2 / 4 against 1 + 3 0.4 A^2 / 4, that is -32.63 dB."""
    look = Look(0, music=False, tone_hz=5000, tone_dbfs=20 * math.log10(0.5 / math.sqrt(2)))
    one = seen(pool, mix, stage(probes["shaper"], Third="0.4"), look=look)
    assert one.tone.dbc[1] == pytest.approx(20 * math.log10(0.025 / 1.075), abs=0.01)
    assert (one.tone.tone_hz, one.tone_dbfs) == (4999, pytest.approx(look.tone_dbfs, abs=1e-4))


def test_every_stage_is_looked_at_on_its_own_input_and_the_chain_as_a_whole(pool, mix, probes):
    """6 dB before a shaper double its harmonic; a limiter behind it counts for itself, and in the whole."""
    stages = [stage(probes["gain"], name="lift", Gain="6 dB", output_trim="6.25 dB"),
              stage(probes["delay_honest"], name="late"), replace(stage(probes["limiter"], name="off"), bypass=True),
              stage(probes["shaper"], name="colour", Second="0.2"), stage(probes["limiter"], name="last", Drive="6 dB")]
    looks = [Look(3, tone=False), Look(None), Look(2), Look(3, music=False), Look(4, tone=False)]
    found = looked(pool, mix, stages, *looks)
    assert [one.name for one in found.seen] == ["colour", "", "off", "colour", "last"]
    colour, whole, off, tone, last = found.seen
    assert off.remarks == (BYPASSED,)
    assert tone.level_dbfs == pytest.approx(whole.level_dbfs + 6, abs=0.01)
    before = seen(pool, mix, stages[3], look=Look(0, music=False))
    assert tone.tone.dbc[0] == pytest.approx(before.tone.dbc[0] + 6, abs=0.01)
    assert last.music.attenuation_db > 3
    assert abs(colour.music.attenuation_db) < 0.5
    assert whole.music.attenuation_db == pytest.approx(last.music.attenuation_db, abs=0.3)
    assert last.music.residue_db < whole.music.residue_db < colour.music.residue_db, "loud colour is turned down"
    assert (found.from_s, found.to_s) == (0, SECONDS)


def test_from_a_stored_step_it_is_the_same(pool, mix, tmp_path, probes):
    stages = [stage(probes["gain"], name="lift", Gain="6 dB"), stage(probes["shaper"], name="colour", Second="0.2")]
    stored = StoredStep(tmp_path / "store", key_of("lift"), 1)
    done(pool, "sweeper.render.step_task:render_step", step_job(mix, stored, stages[:1]))
    assert looked(pool, mix, stages, Look(1), start=stored).seen == looked(pool, mix, stages, Look(1)).seen
    for look in (Look(0), Look(None)):
        with pytest.raises(ValueError, match="not among stages 1 to 1"):
            InsideOrder(mix, tuple(stages), (look,), 60.0, start=stored).at_rest()


def test_a_mono_mix(pool, tmp_path):
    """What is found of it is what is found of the same on two channels."""
    mono = music()[:1]
    mixes = [held(mono, tmp_path / "mono.wav"), held(np.repeat(mono, 2, axis=0), tmp_path / "both.wav")]
    one, two = (seen(pool, each, stage("builtin:Clipping", threshold_db="-20 dB"), look=Look(0)) for each in mixes)
    assert one.music.residue_db == pytest.approx(two.music.residue_db, abs=1e-6)
    assert one.tone.dbc[1] == pytest.approx(two.tone.dbc[1], abs=1e-6)
    assert one.music.residue_db > -60


def test_blend_and_buses(pool, mix, probes):
    """Half of a shaper is a shaper of half the curve; on a bus beside the dry sound at 0 dB it is the same."""
    shaper = stage(probes["shaper"], name="colour", Second="0.2")
    half = seen(pool, mix, replace(shaper, blend=0.5), look=Look(0, music=False)).tone
    fader = replace(stage("", name="bus"), bus="bus", is_fader=True)
    chain = [replace(shaper, bus="bus"), fader, stage(probes["gain"], name="last", Gain="6.25 dB")]
    own, whole = looked(pool, mix, chain, Look(0), Look(None)).seen
    assert half.dbc[0] == pytest.approx(own.tone.dbc[0] - 6.02, abs=0.01)
    assert whole.tone.dbc[0] == pytest.approx(half.dbc[0], abs=0.01), "(x + x + 0.2 x^2) / 2"
    assert whole.music.residue_db == pytest.approx(own.music.residue_db - 6.02, abs=0.1)


def test_rides_rest(pool, mix, probes):
    ride = RideSetup("lift", "Gain", "", Number(12.0, "dB", "12 dB"), True, ((1.0, 2.0),), 0.1)
    ridden = replace(stage(probes["gain"]), rides=(ride,))
    found = looked(pool, mix, [ridden, stage("builtin:Gain", name="last")], Look(1, music=False))
    assert found.notes == (RIDES_REST,)
    level_dbfs = 10 * math.log10(np.mean(np.square(music(), dtype=np.float64)))
    assert found.seen[0].level_dbfs == pytest.approx(level_dbfs - 6.25, abs=0.001), "its gain is built in"


def test_the_loudest_passage_is_what_is_looked_at(pool, tmp_path, probes):
    sound = np.concatenate([music() / 10, music(), music() / 10], axis=1)
    found = looked(pool, held(sound, tmp_path / "long.wav"), [stage(probes["gain"])], Look(0), most_s=SECONDS)
    assert (found.from_s, found.to_s) == (SECONDS, 2 * SECONDS)
    assert found.seen[0].level_dbfs == pytest.approx(10 * math.log10(np.mean(np.square(music()))), abs=0.01)


def test_silence_has_nothing_to_tell(pool, tmp_path, probes):
    silent = held(np.zeros((2, 2 * RATE_HZ)), tmp_path / "silent.wav")
    one = seen(pool, silent, stage(probes["gain"]), look=Look(0))
    assert (one.level_dbfs, one.tone, one.music.residue_db) == (None, None, None)
    assert one.remarks[-1] == NOTHING_IN
    values, why = one.findings(Look(0))
    assert {key for key, value in values.items() if value is not None} == {"stage.residue_floor_db"}
    assert {why["stage.residue_db"], why["stage.attenuation_share_pct"]} == {NO_SOUND}
    assert why["stage.distortion_pct"] == why["stage.second_harmonic_db"] == NOTHING_IN


def test_what_was_found_comes_back_from_json(pool, mix, probes):
    found = looked(pool, mix, [stage(probes["shaper"], Second="0.2")], Look(0), Look(None, music=False))
    assert Inside.from_data(json.loads(json.dumps(found.as_data()))) == found


def test_looks_beyond_the_chain_are_refused(mix):
    for looks in ((), (Look(1),)):
        with pytest.raises(ValueError, match="not among stages 0 to 0"):
            InsideOrder(mix, (stage("a.vst3"),), looks, 60.0).at_rest()


def test_what_a_plugin_does_wrong_is_told_as_in_a_render(pool, mix, tmp_path):
    with pytest.raises(PluginError, match="gave nan instead of a sample"):
        looked(pool, mix, [stage(build("nan_process", tmp_path))], Look(0))
