"""Two files held against each other: copies that ffmpeg made in ways its documentation states; real music."""

from __future__ import annotations

import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile
from whole_runs import mix

from sweeper.meter.thirds import NOMINAL_HZ
from sweeper.render.comparing import compare_files
from sweeper.render.comparison import Compared, CompareOrder
from sweeper.workers import Report


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("compare")
    mix(path / "a.wav", 5.0)
    return path


def compared(folder: Path, one: str, other: str) -> Compared:
    return compare_files(CompareOrder(folder / one, folder / other), Report(lambda message: None))


def filtered(folder: Path, filters: str, name: str = "b.wav", *options: str) -> Compared:
    """The mix against what ffmpeg makes of it."""
    command = ["ffmpeg", "-v", "error", "-y", "-i", "a.wav", "-af", filters]
    subprocess.run([*command, *(options or ("-c:a", "pcm_f32le")), name], cwd=folder, check=True)
    return compared(folder, "a.wav", name)


def thirds_db(found: Compared) -> dict[float, float | None]:
    return dict(zip(NOMINAL_HZ, found.thirds_db, strict=True))


def test_another_wrapping_is_identical(folder):
    assert filtered(folder, "anull", "a.flac", "-sample_fmt", "s32").identical


def test_volume_and_adelay_and_a_turned_channel_are_told_exactly(folder):
    found = filtered(folder, "volume=-2.5dB:precision=double,adelay=1234S|1234S,pan=stereo|c0=c0|c1=-1*c1")
    assert found.alignment.offset_frames == 1234
    assert found.alignment.inverted == (False, True)
    assert found.louder_db == pytest.approx(-2.5, abs=1e-4)
    assert found.same_when_aligned and not found.identical
    assert found.left_db < -120
    peaks = [one["true_peak_dbtp"] for one in found.measurements]
    assert peaks[1] - peaks[0] == pytest.approx(-2.5, abs=0.01)
    assert max(abs(value) for value in found.thirds_db) < 1e-3


def test_a_limiter_takes_from_the_peaks(folder):
    found = filtered(folder, "alimiter=limit=0.25:attack=5:level=false:latency=true")
    assert found.alignment.offset_frames == 0
    assert found.measurements[1]["crest_db"] < found.measurements[0]["crest_db"] - 1
    assert -60 < found.left_db < -10


def test_a_shelf_shows_where_it_lifts(folder):
    found = filtered(folder, "treble=g=6:f=3000")
    bands = thirds_db(found)
    assert bands[12500] - bands[125] == pytest.approx(6.0, abs=0.3)
    assert abs(bands[250] - bands[125]) < 0.1
    assert found.alignment.offset_frames == 0


def test_real_music_later_by_part_of_a_sample_nulls_by_more_than_60_db(folder, music):
    samples, rate_hz = soundfile.read(music["track5"], frames=44100 * 6, always_2d=True)
    spectrum = np.fft.rfft(np.pad(samples.T, ((0, 0), (4000, 4000))), axis=1)
    frames = samples.shape[0] + 8000
    turned = spectrum * np.exp(-2j * np.pi * np.arange(spectrum.shape[1]) / frames * 7.37)
    soundfile.write(folder / "m.wav", np.pad(samples, ((4000, 4000), (0, 0))), rate_hz, subtype="FLOAT")
    soundfile.write(folder / "n.wav", 0.8 * np.fft.irfft(turned, frames, axis=1).T, rate_hz, subtype="FLOAT")
    found = compared(folder, "m.wav", "n.wav")
    assert found.alignment.offset_frames == pytest.approx(7.37, abs=1e-3)
    assert found.left_db < -60
