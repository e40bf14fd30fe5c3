"""The null test against whole files taken apart by NumPy, and against levels that arithmetic gives."""

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from sweeper.audio import inspect
from sweeper.audio.null import null_test
from sweeper.errors import AudioFileError


def nulled(folder, one, other, rate_hz=48000):
    for name, samples in (("one.wav", one), ("other.wav", other)):
        soundfile.write(folder / name, samples.T, rate_hz, subtype="FLOAT")
    return null_test(inspect(folder / "one.wav"), inspect(folder / "other.wav"))


def test_a_file_and_itself_leave_nothing(tmp_path, noise):
    null = nulled(tmp_path, noise(2, 200_000), noise(2, 200_000))
    assert (null.identical, null.peak_dbfs, null.rms_dbfs, null.at_s) == (True, None, None, None)


def test_one_step_of_one_sample_is_found_where_it_is(tmp_path, noise):
    samples = noise(2, 200_000)
    changed = samples.copy()
    changed[1, 150_001] = np.nextafter(changed[1, 150_001], np.float32(1))
    step = float(changed[1, 150_001]) - float(samples[1, 150_001])
    null = nulled(tmp_path, changed, samples)
    assert not null.identical
    assert (null.frame, null.channel, null.at_s) == (150_001, 1, 150_001 / 48000)
    assert null.peak_dbfs == pytest.approx(20 * np.log10(step), abs=1e-9)
    assert null.rms_dbfs == pytest.approx(20 * np.log10(step / np.sqrt(400_000)), abs=1e-9)


def test_a_file_of_opposite_polarity_leaves_twice_the_file(tmp_path, noise):
    """20 log10(2) = 6.0206 dB: doubling is exact."""
    samples = noise(2, 100_000)
    null = nulled(tmp_path, samples, -samples)
    assert null.peak_dbfs == pytest.approx(20 * np.log10(np.abs(samples).max()) + 6.0206, abs=1e-4)


def test_a_full_scale_square_wave_against_silence_is_0_dbfs_rms(tmp_path):
    """The convention of this project's RMS: a full-scale square wave reads 0 dBFS."""
    square = np.tile(np.array([[1, -1]], np.float32), (2, 40_000))
    null = nulled(tmp_path, square, np.zeros_like(square))
    assert (null.peak_dbfs, null.rms_dbfs, null.frame, null.channel) == (0.0, 0.0, 0, 0)


def test_sound_past_the_end_of_the_other_is_left_over(tmp_path, noise):
    samples = noise(1, 70_000)
    null = nulled(tmp_path, samples, samples[:, :65_000])
    tail = samples[:, 65_000:].astype(np.float64)
    assert null.frames == (70_000, 65_000)
    assert null.peak_dbfs == pytest.approx(20 * np.log10(np.abs(tail).max()), abs=1e-9)
    assert null.rms_dbfs == pytest.approx(10 * np.log10((tail**2).sum() / 70_000), abs=1e-9)
    assert null.frame == 65_000 + np.abs(tail[0]).argmax()


def test_silence_past_the_end_of_the_other_is_not_the_same_file(tmp_path, noise):
    samples = noise(1, 1000)
    null = nulled(tmp_path, np.pad(samples, ((0, 0), (0, 5))), samples)
    assert (null.identical, null.peak_dbfs) == (False, None)


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), frames=st.integers(1, 140_000), other_frames=st.integers(1, 140_000))
def test_stretches_give_what_the_whole_gives(tmp_path_factory, seed, frames, other_frames):
    rng = np.random.default_rng(seed)
    one = rng.standard_normal((2, frames)).astype(np.float32)
    other = rng.standard_normal((2, other_frames)).astype(np.float32)
    longest = max(frames, other_frames)
    whole = np.zeros((2, longest))
    whole[:, :frames] += one
    whole[:, :other_frames] -= other
    null = nulled(tmp_path_factory.mktemp("null"), one, other)
    assert null.peak_dbfs == pytest.approx(20 * np.log10(np.abs(whole).max()), abs=1e-9)
    assert null.rms_dbfs == pytest.approx(10 * np.log10((whole**2).mean()), abs=1e-6)
    assert abs(whole[null.channel, null.frame]) == np.abs(whole).max()


@pytest.mark.parametrize(("channels", "rate_hz"), [(1, 48000), (2, 44100)])
def test_files_of_another_kind_are_refused(tmp_path, noise, channels, rate_hz):
    soundfile.write(tmp_path / "a.wav", noise(2, 100).T, 48000)
    soundfile.write(tmp_path / "b.wav", noise(channels, 100).T, rate_hz)
    with pytest.raises(AudioFileError, match=f"{channels} channels at {rate_hz} Hz"):
        null_test(inspect(tmp_path / "a.wav"), inspect(tmp_path / "b.wav"))
