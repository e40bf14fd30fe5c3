"""Where a spectrum ends, on noise through filters of known edges."""

import numpy as np
import pytest
from scipy import signal

from sweeper.audio.format import AudioFormat
from sweeper.meter import band_edge

SECONDS = 3.0


def found(samples, rate_hz, block=10007):
    samples = np.atleast_2d(samples).astype(np.float32)
    state = band_edge.start(AudioFormat(len(samples), rate_hz))
    for at in range(0, samples.shape[1], block):
        state = band_edge.advance(state, samples[:, at : at + block])
    return band_edge.finish(state)


def noise(rate_hz, seed=1):
    return 0.1 * np.random.default_rng(seed).standard_normal(round(SECONDS * rate_hz))


@pytest.mark.parametrize("rate_hz", [44100, 48000, 96000])
@pytest.mark.parametrize("edge_hz", [11000.0, 16000.0, 19000.0])
def test_a_steep_low_pass_is_found_where_it_is(rate_hz, edge_hz):
    taps = signal.firwin(2001, edge_hz, fs=rate_hz, window=("kaiser", 12.0))
    edge = found(signal.fftconvolve(noise(rate_hz), taps, "same"), rate_hz)
    assert edge.edge_hz == pytest.approx(edge_hz, abs=200)
    assert edge.drop_db > 60
    assert edge.above_dbfs < -130


@pytest.mark.parametrize("order", [1, 2, 4])
def test_the_filters_of_equalisers_are_no_edges(order):
    rolled = signal.sosfilt(signal.butter(order, 8000, fs=48000, output="sos"), noise(48000))
    assert found(rolled, 48000).drop_db < 12


def test_white_noise_has_none_and_silence_nothing():
    assert found(noise(44100), 44100).drop_db < 5
    assert found(np.zeros(200000), 48000) is None
    assert found(noise(48000)[:100], 48000) is None
    assert found(noise(16000), 16000) is None


def test_how_the_stream_is_cut_changes_nothing():
    assert found(noise(48000), 48000, 999) == found(noise(48000), 48000, 10**6)
