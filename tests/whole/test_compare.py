"""`sweeper compare` as a user runs it, on copies that ffmpeg made in known ways."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile
from recall_sheets import rendered
from whole_runs import mix, sweeper

from sweeper.host.setup import StageSetup
from sweeper.workers import Pool


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("compare")
    mix(path / "a.wav", 8.0)
    return path


def by_ffmpeg(folder: Path, name: str, filters: str, *options: str) -> Path:
    command = ["ffmpeg", "-v", "error", "-y", "-i", "a.wav", "-af", filters, "-c:a", "pcm_f32le", *options, name]
    subprocess.run(command, cwd=folder, check=True)
    return folder / name


def compared(folder: Path, *arguments: object):
    ran = sweeper("compare", *arguments, "--json", cwd=folder)
    assert ran.code == 0, ran.err
    return ran.data


def test_a_copy_by_ffmpeg_is_identical_whatever_its_wrapping(folder):
    subprocess.run(["ffmpeg", "-v", "error", "-y", "-i", "a.wav", "-sample_fmt", "s32", "a.flac"], cwd=folder, check=True)
    ran = sweeper("compare", "a.wav", "a.flac", cwd=folder)
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith("identical, sample for sample\n")
    assert "spectrum" not in ran.out


def test_volume_and_adelay_and_a_turned_channel_are_told_exactly(folder):
    # ffmpeg's documentation: volume in dB, adelay in samples with S, pan mixes channels with gains
    name = by_ffmpeg(folder, "b.wav", "volume=-2.5dB:precision=double,adelay=1234S|1234S,pan=stereo|c0=c0|c1=-1*c1")
    data = compared(folder, "a.wav", name)
    assert data["alignment"]["offset_frames"] == 1234
    assert data["alignment"]["offset_ms"] == pytest.approx(1234 / 44.1)
    assert data["alignment"]["inverted"] == [False, True]
    assert data["louder_db"] == pytest.approx(-2.5, abs=1e-4)
    assert (data["identical"], data["same_when_aligned"]) == (False, True)
    assert data["null"]["rms_below_a_db"] > 120
    assert data["differences"]["true_peak_dbtp"] == pytest.approx(-2.5, abs=0.01)
    assert max(abs(one["difference_db"]) for one in data["thirds_db"]) < 1e-3
    words = sweeper("compare", "a.wav", name, cwd=folder).out.splitlines()
    assert words[0].startswith("the same but for level and time: ")
    assert words[1:3] == ["level: B is 2.50 dB quieter (by loudness)", "time: B is 1234 samples (27.982 ms) later"]
    assert words[3].startswith("polarity: the right channel is turned over")


def test_a_limiter_and_a_shelf_of_ffmpeg_show_where_they_act(folder):
    limited = compared(folder, "a.wav", by_ffmpeg(folder, "l.wav", "alimiter=limit=0.25:attack=5:level=false:latency=true"))
    assert limited["alignment"]["offset_frames"] == 0
    assert limited["differences"]["crest_db"] < -1
    assert 10 < limited["null"]["rms_below_a_db"] < 60
    bright = compared(folder, "a.wav", by_ffmpeg(folder, "t.wav", "treble=g=6:f=3000"))
    bands = {one["hz"]: one["difference_db"] for one in bright["thirds_db"]}
    assert bands[12500] - bands[100] == pytest.approx(6.0, abs=0.3)
    assert abs(bands[200] - bands[100]) < 0.1
    assert bright["alignment"]["offset_frames"] == 0


def test_real_music_later_by_part_of_a_sample_nulls_by_more_than_60_db(folder, music):
    samples, rate_hz = soundfile.read(music["track5"], frames=44100 * 8, always_2d=True)
    spectrum = np.fft.rfft(np.pad(samples.T, ((0, 0), (4000, 4000))), axis=1)
    frames = samples.shape[0] + 8000
    turned = spectrum * np.exp(-2j * np.pi * np.arange(spectrum.shape[1]) / frames * 7.37)
    soundfile.write(folder / "m.wav", np.pad(samples, ((4000, 4000), (0, 0))), rate_hz, subtype="FLOAT")
    soundfile.write(folder / "n.wav", 0.8 * np.fft.irfft(turned, frames, axis=1).T, rate_hz, subtype="FLOAT")
    data = compared(folder, "m.wav", "n.wav")
    assert data["alignment"]["offset_frames"] == pytest.approx(7.37, abs=1e-3)
    assert data["null"]["rms_below_a_db"] > 60


def test_what_differs_less_than_a_stage_repeats_to_is_said(tmp_path):
    with Pool(1) as pool:
        sheet = rendered(pool, tmp_path, StageSetup(name="trim", path="builtin:Gain", state=None))
    data = json.loads(sheet.read_text())
    data["stages"][0]["repeats"] = "-96.3 dBFS"
    sheet.write_text(json.dumps(data))
    ours = sheet.parent / "render.wav"
    samples, rate_hz = soundfile.read(ours, dtype="float32", always_2d=True)
    samples[30_000, 0] += 1e-5  # -100 dBFS
    soundfile.write(tmp_path / "again.wav", samples, rate_hz, subtype="FLOAT")
    found = sweeper("compare", ours, "again.wav", cwd=tmp_path).out
    assert "that is no more than what 'trim'" in found
    assert "A is variant 004 of Lantern" in found
    samples[30_000, 0] += 1e-4
    soundfile.write(tmp_path / "again.wav", samples, rate_hz, subtype="FLOAT")
    assert "no more than" not in sweeper("compare", ours, "again.wav", cwd=tmp_path).out


def test_files_of_two_rates_are_refused_with_what_to_do(folder):
    by_ffmpeg(folder, "r.wav", "anull", "-ar", "48000")
    ran = sweeper("compare", "a.wav", "r.wav", cwd=folder)
    assert ran.code == 3
    assert "a.wav is at 44100 Hz, r.wav at 48000 Hz\n    convert one of them" in ran.err
    assert sweeper("compare", "a.wav", "none.wav", cwd=folder).code == 3
    assert sweeper("compare", "a.wav", cwd=folder).code == 2
