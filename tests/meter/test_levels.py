"""Sample peak, overs, RMS and crest of known waveforms."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from signals import cut, noise, programme, silence, sine

from sweeper.audio.format import AudioFormat
from sweeper.meter import cells, levels

TIME = np.arange(48000) / 48.0  # periods of 48 frames
WAVES = {
    "sine": np.sin(2 * np.pi * (TIME + 1 / 96)) / np.cos(np.pi / 48),  # its highest samples are 1 exactly
    "square": np.where(TIME % 1.0 < 0.5, 1.0, -1.0),
    "direct current": np.ones(48000),
    "sawtooth": 2.0 * (np.arange(48000) % 4801) / 4800 - 1.0,
    "triangle": 1.0 - 4.0 * np.abs((np.arange(48000) % 4800) / 4800 - 0.5),
}


def measured(samples, full_scale=1.0, blocks=None):
    format = AudioFormat(len(samples), 48000, full_scale)
    state, energies = levels.start(format), cells.start(format)
    for block in blocks if blocks is not None else [samples]:
        state, energies = levels.advance(state, block), cells.advance(energies, block)
    return levels.finish(state, cells.finish(energies))


def value(samples, key, full_scale=1.0):
    return measured(samples, full_scale)[key].value


@pytest.mark.parametrize(
    ("wave", "crest_db", "rms_dbfs"),
    [("sine", 3.0103, -3.0103), ("square", 0.0, 0.0), ("direct current", 0.0, 0.0), ("sawtooth", 4.7712, -4.7712),
     ("triangle", 4.7712, -4.7712)],
)  # fmt: skip
def test_waveforms(wave, crest_db, rms_dbfs):
    # Peak over RMS of continuous waveforms, from their integrals; RMS re digital full scale, a square being 0
    stereo = np.tile(WAVES[wave], (2, 1))
    near = 0.03 if wave == "sine" else 0.003
    assert value(stereo, "crest_db") == pytest.approx(crest_db, abs=near)
    assert value(stereo, "rms_dbfs") == pytest.approx(rms_dbfs, abs=near)
    assert value(stereo, "sample_peak_dbfs") == pytest.approx(0.0, abs=1e-9)


def test_a_sine_of_a_prime_frequency():
    # AES17 defines 0 dBFS by a 997 Hz sine; RMS re full scale is 3.0103 dB under it
    tone = sine(0.0, 1.0, hz=997.0)
    assert value(tone, "rms_dbfs") == pytest.approx(-3.0103, abs=1e-4)
    assert value(tone, "crest_db") == pytest.approx(3.0103, abs=1e-4)


def test_rms_is_the_power_mean_over_channels_and_the_peak_the_highest():
    # One channel of two: half the power, 3.0103 dB less RMS, the same peak
    one_sided = np.array([np.ones(1000), np.zeros(1000)])
    assert value(one_sided, "rms_dbfs") == pytest.approx(-3.0103, abs=1e-4)
    assert value(one_sided, "sample_peak_dbfs") == 0.0


def test_the_peak_may_be_negative():
    assert value(np.array([[0.1, -0.5, 0.2]]), "sample_peak_dbfs") == pytest.approx(-6.0206, abs=1e-4)


@pytest.mark.parametrize(("drive_db", "fraction"), [(1.0, 0.29967), (6.0206, 2 / 3)])
def test_overs_of_a_clipped_sine(drive_db, fraction):
    # Part of the time that a sine of amplitude A spends over 1: 1 - (2 / pi) asin(1 / A)
    clipped = np.clip(sine(drive_db, 10.0, hz=997.0, channels=1), -1.0, 1.0)
    assert value(clipped, "overs") / clipped.size == pytest.approx(fraction, abs=0.0002)


@pytest.mark.parametrize("bits", [16, 24])
def test_the_highest_value_of_a_file_is_an_over_and_the_next_is_not(bits):
    # Integers reach (2^(n-1) - 1) / 2^(n-1) upwards and 1 downwards
    steps = 2 ** (bits - 1)
    samples = np.array([[steps - 1, steps - 2, -steps, -(steps - 1), -(steps - 2), 0]], np.float32) / steps
    assert value(samples, "overs", (steps - 1) / steps) == 3


def test_float_files_are_over_from_1_on():
    samples = np.array([[1.0, np.nextafter(np.float32(1), np.float32(0)), -1.0, 1.5]], np.float32)
    assert value(samples, "overs") == 3


def test_overs_count_each_channel():
    assert value(np.ones((2, 10)), "overs") == 20


def test_silence_has_no_levels_but_no_overs_either():
    findings = measured(silence(1.0))
    assert {key: finding.reason for key, finding in findings.items() if finding.value is None} == dict.fromkeys(
        ["sample_peak_dbfs", "rms_dbfs", "crest_db"], "digital silence"
    )
    assert findings["overs"].value == 0


def test_no_samples_have_no_levels():
    findings = measured(np.zeros((2, 0)))
    assert findings["crest_db"].reason == "no samples"
    assert findings["overs"].value == 0


@settings(deadline=None)
@given(gain_db=st.floats(-80, 40))
def test_a_gain_moves_levels_and_leaves_the_crest(gain_db):
    music = noise(0.1)
    louder = music * 10.0 ** (gain_db / 20.0)
    for key in ("sample_peak_dbfs", "rms_dbfs"):
        assert value(louder, key) - value(music, key) == pytest.approx(gain_db, abs=1e-9)
    assert value(louder, "crest_db") == pytest.approx(value(music, "crest_db"), abs=1e-9)


@settings(deadline=None)
@given(seed=st.integers(0, 10000), frames=st.integers(1, 5000))
def test_the_crest_is_never_negative(seed, frames):
    assert value(programme(0.2, seed=seed)[:, :frames], "crest_db") >= -1e-9


def test_rms_agrees_with_numpy():
    # 30 s in single precision, summed by numpy in double
    music = programme(30.0).astype(np.float32)
    truth = 10.0 * math.log10(np.mean(np.square(music, dtype=np.float64)))
    assert value(music, "rms_dbfs") == pytest.approx(truth, abs=1e-9)


@settings(max_examples=50, deadline=None)
@given(sizes=st.lists(st.integers(1, 9000), min_size=1, max_size=5), frames=st.integers(1, 30000))
def test_chunking_never_changes_a_bit(sizes, frames):
    music = programme(0.7)[:, :frames].astype(np.float32)
    assert measured(music, blocks=cut(music, sizes)) == measured(music)
