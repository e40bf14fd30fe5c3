"""The long-term spectrum: definitions, Parseval, and the midbands that IEC 61260-1 prints."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import freqz, lfilter, welch
from signals import cut, noise, programme, sine

from sweeper.audio.format import AudioFormat
from sweeper.meter import measure, thirds

#: Nominal midbands of thirds of an octave, IEC 61260-1 (from memory).
NOMINAL_HZ = (20, 25, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000,
              2500, 3150, 4000, 5000, 6300, 8000, 10000, 12500, 16000, 20000)  # fmt: skip


def measured(samples, rate_hz=48000, blocks=None):
    state = thirds.start(AudioFormat(len(samples), rate_hz))
    for block in blocks if blocks is not None else [samples]:
        state = thirds.advance(state, block)
    return thirds.finish(state)


def levels_db(samples, rate_hz=48000):
    return 10 * np.log10(measured(samples, rate_hz))


def test_midbands_are_those_of_the_standard():
    # IEC 61260-1, base ten: 1000 * 10^(x / 10); edges 10^(1/20) to either side
    known = [19.953, 25.119, 31.623, 39.811, 50.119, 63.096, 79.433, 100, 125.893, 158.489, 199.526, 251.189, 316.228,
             398.107, 501.187, 630.957, 794.328, 1000, 1258.925, 1584.893, 1995.262, 2511.886, 3162.278, 3981.072,
             5011.872, 6309.573, 7943.282, 10000, 12589.254, 15848.932, 19952.623]  # fmt: skip
    assert pytest.approx(known, rel=2e-5) == thirds.MIDBANDS_HZ
    assert thirds.EDGES_HZ[17:19] == pytest.approx([891.251, 1122.018], rel=1e-5)
    assert np.abs(np.array(thirds.NOMINAL_HZ) / known - 1).max() < 0.03


@pytest.mark.parametrize("rate_hz", [44100, 48000])
def test_a_sine_is_in_the_band_of_its_nominal_frequency_with_its_rms(rate_hz):
    tones = np.concatenate([sine(-6.0, 2.0, rate_hz, hz, channels=1) for hz in NOMINAL_HZ])
    state = [measured(tones[at : at + 1], rate_hz) for at in range(len(NOMINAL_HZ))]
    assert [int(powers.argmax()) for powers in state] == list(range(len(NOMINAL_HZ)))
    # a sine of -6 dBFS peak has an RMS of -9.01 dBFS; what switching the lowest tones on and off does lies beside
    found = [10 * np.log10(powers.max()) for powers in state]
    assert found == pytest.approx([-9.01] * len(NOMINAL_HZ), abs=0.2)
    assert found[4:] == pytest.approx([-9.01] * 27, abs=0.05)


def test_the_bands_of_what_lies_in_them_add_up_to_its_mean_square():
    # Parseval's theorem: not a frame is lost or counted twice, however long the stream is
    band = sine(-6.0, 3.0, hz=1000.0) + sine(-20.0, 3.0, hz=90.0) + sine(-30.0, 3.0, hz=9000.0)
    for frames in (144000, 100001, 24000, 23999):
        part = band[:, :frames] * np.array([[1.0], [0.5]]) * np.hanning(frames)
        assert measured(part).sum() == pytest.approx(np.mean(part**2), rel=1e-5)


def test_white_noise_has_equal_power_in_equal_widths():
    powers = measured(noise(10.0, channels=2, level_dbfs=-20.0))
    assert (powers / np.diff(thirds.EDGES_HZ) * 24000)[12:] == pytest.approx(np.full(19, 0.01), rel=0.1)


def test_bands_over_half_the_rate_are_empty_and_so_is_nothing():
    powers = measured(noise(2.0, 8000), 8000)
    assert (powers[thirds.EDGES_HZ[:-1] > 4000] == 0.0).all()
    assert (powers[thirds.EDGES_HZ[1:] < 4000] > 0.0).all()
    assert (measured(np.zeros((1, 0))) == 0.0).all()


@pytest.mark.parametrize("hz", [50.0, 1000.0, 10000.0])
def test_a_tone_lies_in_its_own_band(hz):
    levels = levels_db(sine(-6.0, 10.0, hz=hz))
    own = int(np.argmin(np.abs(thirds.MIDBANDS_HZ - hz)))
    assert levels[own] == pytest.approx(-9.01, abs=0.02)
    others = [level for k, level in enumerate(levels) if k != own]
    assert max(others) < levels[own] - 24


def test_levels_are_those_of_the_bands_and_an_empty_one_has_none():
    found = measure(0.5 * np.sin(2 * np.pi * 1000 * np.arange(96000) / 48000)[None], AudioFormat(1, 48000)).thirds_dbfs
    assert found[NOMINAL_HZ.index(1000)] == pytest.approx(-9.03, abs=0.02)
    silent = measure(np.zeros((1, 48000)), AudioFormat(1, 48000), {"part": [(0, 100)]})
    assert silent.thirds_dbfs == silent.sections["part"].thirds_dbfs == (None,) * 31


def test_a_filter_moves_the_bands_by_its_response():
    # Welch's method of scipy beside ours, over the same noise
    music = lfilter([1.0], [1.0, -0.9], noise(20.0), axis=1)
    lines_hz, density = welch(music, 48000, nperseg=32768)
    power = density.mean(axis=0) * (lines_hz[1] - lines_hz[0])
    levels = levels_db(music)
    for k in range(8, 30):
        inside = (lines_hz > thirds.EDGES_HZ[k]) & (lines_hz < thirds.EDGES_HZ[k + 1])
        assert levels[k] == pytest.approx(10 * np.log10(power[inside].sum()), abs=0.4)


@settings(max_examples=20, deadline=None)
@given(sizes=st.lists(st.integers(1, 9000), min_size=1, max_size=5), frames=st.integers(1, 30000),
       rate_hz=st.sampled_from([8001, 11025, 44100]))  # fmt: skip
def test_chunking_never_changes_a_bit(sizes, frames, rate_hz):
    music = programme(0.7)[:, :frames].astype(np.float32)
    assert (measured(music, rate_hz) == measured(music, rate_hz, cut(music, sizes))).all()


def test_a_known_filter_is_read_off_as_the_difference_of_two_spectra():
    white = noise(20.0)
    _, response = freqz([1, -0.8], [1, -0.5], worN=thirds.MIDBANDS_HZ, fs=48000)
    found = thirds.differences_db(measured(white), measured(lfilter([1, -0.8], [1, -0.5], white)), 0.0)
    assert found[12:28] == pytest.approx(20 * np.log10(np.abs(response))[12:28], abs=0.15)


def test_the_level_is_taken_out_of_the_difference_and_an_empty_band_has_none():
    white = noise(3.0)
    assert thirds.differences_db(measured(white), measured(white * 0.5), -6.0206) == pytest.approx([0.0] * 31, abs=1e-4)
    assert thirds.differences_db(measured(white), measured(white * 0), 0.0) == (None,) * 31
