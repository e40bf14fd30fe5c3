"""Blocks of a coder found again: on a coder of our own (MDCT, rounding, back), on Vorbis, and on nothing."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile
from scipy.fft import dct

from sweeper.audio.format import AudioFormat
from sweeper.meter import coding_grid, loud_places
from sweeper.meter.coding_grid import HOP, STRETCH_FRAMES, WINDOWS, _folded

RATE_HZ = 44100


def music(seconds=3.0):
    """Falling noise with beats: full band, as the treble of music is."""
    rng = np.random.default_rng(1)
    frames = round(seconds * RATE_HZ)
    beat = np.exp(-((np.arange(frames) % 11025) / 3000)) + 0.2
    return (
        0.1 * np.cumsum(rng.standard_normal(frames) * beat)[None] % 1.0 * 0.1
        + 0.05 * rng.standard_normal(frames) * beat
    )


def unfolded(coefficients):
    """The inverse MDCT, before the window: blocks (n, 2 HOP)."""
    half = HOP // 2
    back = dct(coefficients, type=4, axis=1) / (2 * HOP)
    first, second = back[:, :half], back[:, half:]
    return np.concatenate((second, -second[:, ::-1], -first[:, ::-1], -first), axis=1)


def coded(samples, window, shift, step):
    """What a coder of that window, its blocks `shift` frames from the start, gives with steps of that size."""
    padded = np.concatenate((np.zeros(HOP + shift), samples, np.zeros(2 * HOP)))
    begins = np.arange(0, padded.size - 2 * HOP, HOP)
    blocks = np.stack([padded[at : at + 2 * HOP] for at in begins])
    lines = dct(_folded((blocks * window).astype(np.float64)), type=4, axis=1)
    out = np.zeros(padded.size)
    for at, block in zip(begins, unfolded(np.round(lines / step) * step) * window, strict=True):
        out[at : at + 2 * HOP] += block
    return out[HOP + shift :][: samples.size]


def stretches(samples):
    samples = np.atleast_2d(samples)
    state = loud_places.advance(loud_places.start(AudioFormat(len(samples), RATE_HZ)), samples)
    begins = loud_places.finish(state, STRETCH_FRAMES, 3)
    return [(at, samples[:, at : at + STRETCH_FRAMES]) for at in begins if at + STRETCH_FRAMES <= samples.shape[1]][:2]


def test_the_coder_of_this_test_is_one():
    samples = music()[0]
    for window in WINDOWS.values():
        assert np.abs(coded(samples, window, 100, 1e-9) - samples).max() < 1e-5


@pytest.mark.parametrize("window", ["Kaiser-Bessel", pytest.param("sine", marks=pytest.mark.long)])
def test_blocks_are_found_with_their_window_wherever_they_begin(window):
    samples = coded(music()[0], WINDOWS[window], 321, 3.0)
    found = coding_grid.coding_grid(stretches(samples), RATE_HZ)
    assert found.clear
    assert found.window == window


def test_vorbis_is_found_in_real_vorbis(tmp_path):
    soundfile.write(tmp_path / "a.ogg", music()[0], RATE_HZ, format="OGG", subtype="VORBIS")
    decoded = soundfile.read(tmp_path / "a.ogg", dtype="float32")[0]
    found = coding_grid.coding_grid(stretches(decoded), RATE_HZ)
    assert found.clear
    assert found.coder == "Vorbis"


def test_music_that_was_never_coded_has_no_blocks():
    found = coding_grid.coding_grid(stretches(music()), RATE_HZ)
    assert not found.clear
    assert found.sigmas < 7


def test_silence_and_what_is_too_short_have_nothing_to_look_at():
    assert coding_grid.coding_grid([(0, np.zeros((1, STRETCH_FRAMES)))], RATE_HZ) is None
    assert coding_grid.coding_grid([(0, np.ones((1, 100)))], RATE_HZ) is None


def test_loud_places_are_one_a_part_and_skip_silence():
    samples = np.zeros((1, 8 * 65536))
    rng = np.random.default_rng(2)
    for at in (20000, 300000):
        samples[:, at : at + 20000] = rng.standard_normal(20000)
    state = loud_places.start(AudioFormat(1, RATE_HZ))
    for block in np.array_split(samples, 37, axis=1):
        state = loud_places.advance(state, block)
    places = loud_places.finish(state, 8192, 4)
    assert len(places) == 2
    assert 20000 - 8192 <= places[0] <= 40000
    assert 300000 - 8192 <= places[1] <= 320000
