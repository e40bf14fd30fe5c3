"""One file against another made from it in a known way: gain, delay, polarity, filter, noise."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile
from scipy.signal import lfilter, resample
from signals import noise, programme

from sweeper.audio import inspect
from sweeper.audio.null import null_test
from sweeper.errors import AudioFileError
from sweeper.render.comparing import compare_files, compared
from sweeper.render.comparison import CompareOrder
from sweeper.workers import Pool, Report

RATE_HZ = 16000
MUSIC = programme(6.0, RATE_HZ).astype(np.float32).astype(np.float64)


def held(folder, other, one=MUSIC, encoding="FLOAT", rate_hz=RATE_HZ):
    for name, samples, rate in (("a.wav", one, RATE_HZ), ("b.wav", other, rate_hz)):
        soundfile.write(folder / name, samples.T, rate, subtype=encoding)
    return compare_files(CompareOrder(folder / "a.wav", folder / "b.wav"), Report(lambda message: None))


def late_by(samples, frames):
    """Moved by any part of a frame, exactly: a turn of the spectrum of the whole, with silence around it."""
    padded = np.pad(samples, ((0, 0), (1000, 1000)))
    spectrum = np.fft.rfft(padded, axis=1)
    turn = np.exp(-2j * np.pi * np.arange(spectrum.shape[1]) / padded.shape[1] * frames)
    return np.fft.irfft(spectrum * turn, padded.shape[1], axis=1)


def test_a_file_and_itself_are_identical(tmp_path):
    found = held(tmp_path, MUSIC)
    assert found.identical and found.same_when_aligned
    assert (found.null.peak_dbfs, found.left_db, found.louder_db, found.alignment.offset_frames) == (None, None, 0, 0)
    assert found.measurements[0] == found.measurements[1]
    assert {value for value in found.thirds_db if value is not None} == {0.0}


@pytest.mark.parametrize("gain_db", [-6.0, 2.5])
@pytest.mark.parametrize("encoding", ["FLOAT", "PCM_24"])
def test_a_gain_is_told_and_nothing_else_is_left(tmp_path, gain_db, encoding):
    found = held(tmp_path, 0.3 * MUSIC * 10 ** (gain_db / 20), 0.3 * MUSIC, encoding)
    assert found.louder_db == pytest.approx(gain_db, abs=1e-4)
    assert found.same_when_aligned and not found.identical
    assert found.null.peak_dbfs < -130


def test_a_copy_whose_quiet_part_falls_under_the_gate_nulls_all_the_same(tmp_path):
    quiet = np.concatenate([noise(4.0, RATE_HZ, level_dbfs=-63.0), noise(4.0, RATE_HZ, level_dbfs=-71.0)], axis=1)
    found = held(tmp_path, quiet * 0.5, quiet)
    assert found.louder_by == "null"
    assert found.louder_db == pytest.approx(-6.0206, abs=1e-4)
    assert found.same_when_aligned


def test_a_tail_loses_no_channel_where_the_copy_is_quieter(tmp_path):
    tail = noise(4.0, RATE_HZ, level_dbfs=-40.0) * [[1.0], [0.005]]
    music = np.concatenate([MUSIC, tail], axis=1)
    found = held(tmp_path, 0.01 * music, music)
    assert found.shift.gone_at_s is None
    assert found.shift.change_db == pytest.approx(0.0, abs=1e-4)


@pytest.mark.parametrize("late", [480, -1000])
def test_a_delay_in_samples_and_polarity_are_undone_to_the_bit(tmp_path, late):
    other = -np.pad(MUSIC, ((0, 0), (late, 0))) if late > 0 else -MUSIC[:, -late:]
    found = held(tmp_path, other)
    assert (found.alignment.offset_frames, found.alignment.inverted) == (late, (True, True))
    assert (found.null.peak_dbfs, found.louder_db) == (None, 0.0)
    assert (found.first_frame, found.frames) == (max(0, -late), MUSIC.shape[1] - max(0, -late))
    assert found.as_is.peak_dbfs is not None


def test_exchanged_channels_are_told_and_put_back(tmp_path):
    found = held(tmp_path, np.pad(MUSIC[::-1] * [[-0.5], [0.5]], ((0, 0), (32, 0))))
    assert (found.alignment.exchanged, found.alignment.inverted) == (True, (False, True))
    assert found.alignment.offset_frames == 32
    assert found.same_when_aligned


@pytest.mark.parametrize("late", [0.5, 7.37, -0.2])
def test_a_delay_between_the_samples_leaves_less_than_a_thousandth(tmp_path, late):
    music = lfilter([0.02, 0.04, 0.02], [1, -1.5, 0.58], MUSIC, axis=1)  # little at half the rate, as in music
    found = held(tmp_path, 0.7 * late_by(music, late), np.pad(music, ((0, 0), (1000, 1000))))
    assert found.alignment.offset_frames == pytest.approx(late, abs=1e-3)
    assert found.louder_db == pytest.approx(20 * np.log10(0.7), abs=1e-3)
    assert found.left_db < -60


def test_a_clock_that_ran_otherwise_is_told(tmp_path):
    """Outside reference: SciPy's resampling by Fourier makes 96,005 frames of 96,000."""
    found = held(tmp_path, resample(MUSIC, MUSIC.shape[1] + 5, axis=1))
    assert found.alignment.drift_ppm == pytest.approx(1e6 * 5 / MUSIC.shape[1], rel=0.05)
    assert abs(found.alignment.offset_frames - 2.5) <= 0.75  # the middle, to the sample


def test_noise_that_was_added_is_what_is_left(tmp_path):
    added = noise(6.0, RATE_HZ, level_dbfs=-50.0, seed=9)
    added[0, 40_000] = 0.5
    found = held(tmp_path, MUSIC + added)
    assert found.alignment.offset_frames == 0.0
    assert (found.null.frame, found.null.channel) == (40_000, 0)
    assert found.null.rms_dbfs == pytest.approx(10 * np.log10(np.mean(added**2)), abs=0.2)
    assert found.left_db == pytest.approx(10 * np.log10(np.mean(added**2) / np.mean(MUSIC**2)), abs=0.2)


def test_a_filter_shows_in_the_spectrum_and_is_no_delay(tmp_path):
    found = held(tmp_path, lfilter([1.3, -0.3], [1], MUSIC, axis=1))
    assert found.alignment.offset_frames == 0.0
    tops = [10 * np.log10(1.3**2 + 0.3**2 - 0.78 * np.cos(2 * np.pi * hz / RATE_HZ)) for hz in (1000, 4000)]
    shown = [found.thirds_db[17], found.thirds_db[23]]
    assert shown[1] - shown[0] == pytest.approx(tops[1] - tops[0], abs=0.15)


def test_where_lengths_differ_what_both_have_is_compared(tmp_path):
    found = held(tmp_path, MUSIC[:, :70_000])
    assert (found.first_frame, found.frames) == (0, 70_000)
    assert found.null.peak_dbfs is None and not found.identical
    assert found.measurements[0]["loudness_lufs"] == found.measurements[1]["loudness_lufs"]
    assert found.as_is.peak_dbfs is not None


def test_the_place_of_what_is_left_is_told_in_a(tmp_path):
    other = MUSIC[:, 1000:].copy()
    other[1, 29_000] += 0.5
    found = held(tmp_path, other)
    assert (found.null.frame, found.null.channel, found.null.at_s) == (30_000, 1, 30_000 / RATE_HZ)


def test_other_music_is_not_aligned(tmp_path):
    found = held(tmp_path, programme(6.0, RATE_HZ, seed=5))
    assert (found.alignment, found.null, found.left_db) == (None, None, None)
    assert found.louder_db == pytest.approx(
        found.measurements[1]["loudness_lufs"] - found.measurements[0]["loudness_lufs"])  # fmt: skip


@pytest.mark.parametrize("frames", [1, 2, 100])
def test_a_few_frames_and_silence_are_no_fault(tmp_path, frames):
    short = noise(1.0, RATE_HZ)[:, :frames]
    assert held(tmp_path, 0 * short, short).louder_by == ""
    assert held(tmp_path, short, MUSIC).frames == frames
    assert held(tmp_path, short * 0.5, short).louder_by in ("rms_dbfs", "null")


def test_it_agrees_with_the_null_test_of_recall(tmp_path):
    other = MUSIC.copy()
    other[0, 5] += 0.25
    found = held(tmp_path, other)
    plain = null_test(inspect(tmp_path / "a.wav"), inspect(tmp_path / "b.wav"))
    assert found.as_is == plain
    assert found.null.peak_dbfs == pytest.approx(plain.peak_dbfs, abs=0.01)


@pytest.mark.parametrize(
    ("samples", "rate_hz", "words"),
    [
        (MUSIC, 22050, r"16000 Hz, b.wav at 22050 Hz\n.*nothing is converted"),
        (MUSIC[:1], RATE_HZ, "stereo, b.wav is mono"),
    ],
)
def test_files_that_do_not_compare_are_refused(tmp_path, samples, rate_hz, words):
    with pytest.raises(AudioFileError, match=words):
        held(tmp_path, samples, rate_hz=rate_hz)


def test_the_errors_of_a_worker_are_those_of_the_file(tmp_path):
    (tmp_path / "text.wav").write_text("no sound")
    with Pool(1) as pool, pytest.raises(AudioFileError, match=r"text\.wav"):
        compared(CompareOrder(tmp_path / "text.wav", tmp_path / "text.wav"), pool)
