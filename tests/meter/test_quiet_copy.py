"""Residue and attenuation of processors written here, whose law is known; no plugin."""

from __future__ import annotations

import math

import numpy as np
import pytest
import signals
from scipy.signal import butter, sosfilt

from sweeper.audio import AudioFormat
from sweeper.meter import quiet_copy
from sweeper.meter.quiet_copy import LESS_QUIET, LOST, NO_SOUND, NOISY, QUIET, STILL_AT_WORK

RATE_HZ = 48000


def explained(output, quiet, less_quiet, rate_hz: int):
    """The three calls in one, (channels, frames) each; the copies as they came out."""
    state = quiet_copy.start(AudioFormat(output.shape[0], rate_hz))
    return quiet_copy.finish(quiet_copy.advance(state, output, quiet, less_quiet))


def through(process, sound: np.ndarray, rate_hz: int = RATE_HZ):
    """What a processor is found to do, that works in 32-bit floats as plugins do."""
    made = [np.asarray(process((sound * factor).astype(np.float32)), np.float32) for factor in (1, QUIET, LESS_QUIET)]
    return explained(*made, rate_hz)


def music(seconds: float = 4.0) -> np.ndarray:
    return 3 * signals.programme(seconds)


def clipped(drive_db: float):
    return lambda sound: np.clip(sound * np.float32(10 ** (drive_db / 20)), -1, 1)


def sign_noise(levels_dbfs, seconds_each: float = 1.0) -> np.ndarray:
    """Noise of the values +a and -a alone: any detector of magnitude reads the level a without ripple."""
    frames = round(seconds_each * RATE_HZ)
    signs = np.random.default_rng(3).choice([-1.0, 1.0], (2, frames * len(levels_dbfs)))
    return signs * np.repeat(10 ** (np.asarray(levels_dbfs, float) / 20), frames)


def compressed(threshold_db: float, ratio: float, makeup_db: float = 0.0):
    """Instant attack and release: the reduction is (level - threshold)(1 - 1/ratio), the law of any compressor."""

    def process(sound):
        level_db = 20 * np.log10(np.maximum(np.abs(sound).max(axis=0), 1e-9))
        return sound * 10 ** ((makeup_db - np.maximum(0, level_db - threshold_db) * (1 - 1 / ratio)) / 20)

    return process


@pytest.mark.parametrize("process", [
    lambda sound: 0.7 * sound,
    lambda sound: sosfilt(butter(2, 30, "high", fs=RATE_HZ, output="sos"), sound),
    lambda sound: np.roll(sound, 441, axis=1) - 0.3 * sound[::-1],
], ids=["gain", "high-pass", "delayed and crossed over"])  # fmt: skip
def test_what_is_linear_leaves_nothing_over_and_attenuates_nothing(process):
    found = through(process, music())
    assert found.residue_db <= -140, "24 bits of a 32-bit float are 144 dB"
    assert found.remarks == (LOST,)
    figures = (found.attenuation_db, found.median_db, found.most_db, found.working_share)
    assert np.abs(figures).max() < 1e-3


@pytest.mark.parametrize(("drive_db", "thd_r_pct", "fundamental"), [
    (1, 4.62660, 1.074511), (3, 13.26135, 1.156960), (6, 22.63404, 1.217721), (12, 33.34477, 1.259721)])  # fmt: skip
def test_the_residue_of_a_clipped_sine_is_its_harmonics(drive_db, thd_r_pct, fundamental):
    """Fourier series of a clipped sine, in closed form: harmonics over all, and b1 against A."""
    found = through(clipped(drive_db), signals.sine(0.0, 3.0, hz=997.0))
    assert found.residue_db == pytest.approx(20 * math.log10(thd_r_pct / 100), abs=0.05)
    attenuation_db = drive_db - 20 * math.log10(fundamental)
    assert (found.attenuation_db, found.median_db) == pytest.approx((attenuation_db,) * 2, abs=0.02)


def test_steady_reduction_counts_and_make_up_does_not():
    found = through(compressed(-20, 4, makeup_db=6), sign_noise([-4]))
    assert (found.attenuation_db, found.median_db, found.most_db) == pytest.approx((12, 12, 12), abs=0.01)
    assert found.residue_db < -130
    assert found.working_share == 1.0


def test_percentiles_are_of_the_time_at_each_level():
    """Reductions 0, 0, 0.4, 6 and 9 dB for a second each at 2:1 above -20 dBFS: by hand."""
    found = through(compressed(-20, 2), sign_noise([-30, -22, -19.2, -8, -2]))
    assert found.median_db == pytest.approx(0.4, abs=0.01)
    assert (found.attenuation_db, found.most_db) == pytest.approx((9, 9), abs=0.01)
    assert found.working_share == pytest.approx(0.4, abs=0.01)


def test_attenuation_is_that_of_the_loudest_half_minute():
    """36 s of sound at 9 dB of reduction, one of them silence, behind 20 s of quiet sound, which count for nothing."""
    rate_hz = 8000
    levels = np.repeat([-40.0, -2.0, -200.0, -2.0], [20 * rate_hz, 25 * rate_hz, rate_hz, 10 * rate_hz])
    signs = np.random.default_rng(3).choice([-1.0, 1.0], (1, levels.size))
    found = through(compressed(-20, 2), signs * 10 ** (levels / 20), rate_hz)
    assert (found.median_db, found.attenuation_db) == pytest.approx((9, 9), abs=0.01)
    assert found.working_share > 0.999, "the second of silence among them says nothing"


def test_a_clipper_leaves_more_over_the_harder_it_is_driven_and_more_than_a_limiter():
    def limited(sound):
        """Look-ahead: the least gain within 2.5 ms, smoothed by as much."""
        from scipy.ndimage import minimum_filter1d, uniform_filter1d

        driven = sound * np.float32(10**0.3)
        wanted = np.minimum(1, 1 / np.maximum(np.abs(driven).max(axis=0), 1e-9))
        return driven * uniform_filter1d(minimum_filter1d(wanted, 241), 121)

    residues = [through(clipped(drive_db), music()).residue_db for drive_db in (0, 3, 6, 9, 12)]
    assert residues == sorted(residues)
    assert residues[2] - residues[0] > 3
    assert through(limited, music()).residue_db < residues[2] - 6


def test_noise_of_a_processors_own_is_told_and_the_higher_copy_is_taken():
    """Noise at -80 dBFS under a sound at -20: lifted 30.1 dB it is at -29.9 against it, lifted 42.1 dB at -17.9."""
    noise = np.random.default_rng(5)
    sound = signals.noise(3.0)
    found = through(lambda block: block + 1e-4 * noise.standard_normal(block.shape), sound)
    assert found.residue_db == pytest.approx(-29.9, abs=0.2)
    assert found.floor_db == pytest.approx(10 * math.log10(10**-1.79 + 10**-2.99), abs=0.2)
    assert found.remarks == (NOISY, LOST)


def test_noise_is_not_taken_for_attenuation():
    """Noise at -65 dBFS is at -35 in the copy that is taken: windows of the music are hardly louder."""
    noise = np.random.default_rng(5)
    found = through(lambda block: block + 10**-3.25 * noise.standard_normal(block.shape), music())
    assert NOISY in found.remarks
    assert (found.attenuation_db, found.median_db) == pytest.approx((0, 0), abs=0.3)


def test_what_is_still_at_work_on_the_copies_is_told():
    """At 2:1 the copies, 12.04 dB apart, come out 6.02 dB apart."""
    found = through(compressed(-60, 2), sign_noise([-4, -10]))
    assert STILL_AT_WORK in found.remarks
    assert found.median_db == pytest.approx(21.07, abs=0.01), "half of the 42.14 dB between sound and copy"


def test_a_stage_that_does_not_repeat_has_that_as_its_floor():
    state = quiet_copy.start(AudioFormat(2, RATE_HZ))
    sound = signals.noise(1.0)
    found = quiet_copy.finish(quiet_copy.advance(state, sound, sound * QUIET, sound * LESS_QUIET), repeats_db=-60.0)
    assert found.floor_db == -60.0


def test_silence_says_so():
    found = through(lambda sound: 0 * sound, music(1.0))
    assert (found.residue_db, found.attenuation_db, found.working_share) == (None, None, None)
    assert found.remarks == (NO_SOUND,)


@pytest.mark.parametrize("rate_hz", [44100, 96000])
def test_chunking_changes_nothing(rate_hz):
    sound = 3 * signals.programme(2.3, rate_hz)
    made = [clipped(6)(sound * factor) for factor in (1, QUIET, LESS_QUIET)]
    whole = explained(*made, rate_hz)
    state = quiet_copy.start(AudioFormat(2, rate_hz))
    for three in zip(*(signals.cut(each, [1, 7000, 333, 50000]) for each in made), strict=True):
        state = quiet_copy.advance(state, *three)
    assert quiet_copy.finish(state) == whole


def test_attenuation_over_time_follows_the_law_of_a_compressor():
    # 1 s at -30, 1 s at -10, 1 s at -30 dBFS through 4:1 above -20: 0, 7.5, 0 dB by (level - threshold)(1 - 1/ratio)
    sound = sign_noise([-30, -10, -30])
    found = through(compressed(-20, 4.0), sound).over_time_db
    assert len(found) in (30, 31)
    assert found[1:9] == pytest.approx([0.0] * 8, abs=0.05)
    assert found[11:19] == pytest.approx([7.5] * 8, abs=0.05)
    assert found[21:29] == pytest.approx([0.0] * 8, abs=0.05)


def test_pauses_have_no_attenuation_over_time():
    sound = sign_noise([-10, -10, -10])
    sound[:, RATE_HZ : 2 * RATE_HZ] = 0.0
    found = through(compressed(-20, 4.0), sound).over_time_db
    assert found[12:18] == (None,) * 6
    assert None not in found[2:8]
