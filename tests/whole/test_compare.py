"""`sweeper compare` as a user runs it."""

from __future__ import annotations

import json

import numpy as np
import pytest
import soundfile
from recall_sheets import rendered
from signals import programme
from whole_runs import sweeper

from sweeper.chain.model import Channels
from sweeper.host.setup import StageSetup
from sweeper.workers import Pool

RATE_HZ = 16000


def written(path, samples, rate_hz=RATE_HZ):
    soundfile.write(path, samples.T, rate_hz, subtype="FLOAT")
    return path


def test_words_and_data_of_a_copy_that_is_quieter_later_and_turned(tmp_path):
    music = programme(4.0, RATE_HZ)
    written(tmp_path / "a.wav", music)
    written(tmp_path / "b.wav", np.pad(music * [[1], [-1]] * 10 ** (-2.5 / 20), ((0, 0), (160, 0))))
    ran = sweeper("compare", "a.wav", "b.wav", cwd=tmp_path)
    assert (ran.code, ran.err) == (0, "")
    words = ran.out.splitlines()
    assert words[0].startswith("the same but for level and time: ")
    assert words[1:3] == ["level: B is 2.50 dB quieter (by loudness)", "time: B is 160 samples (10.000 ms) later"]
    assert words[3].startswith("polarity: the right channel is turned over")
    assert any(line.split() == ["B:", "b.wav", "B", "-", "A"] or line.split()[-3:] == ["B", "-", "A"] for line in words)
    assert "in thirds of an octave:\n  Hz    20    25  31.5" in ran.out
    assert "image: moves nowhere" in ran.out
    data = sweeper("compare", "a.wav", "b.wav", "--json", cwd=tmp_path).data
    assert (data["schema"], data["identical"], data["same_when_aligned"]) == (1, False, True)
    assert data["alignment"]["offset_ms"] == 10.0
    assert data["louder_db"] == pytest.approx(-2.5, abs=1e-4)


def test_what_differs_less_than_a_stage_repeats_to_is_said(tmp_path):
    with Pool(1) as pool:
        sheet = rendered(pool, tmp_path, StageSetup("trim", "builtin:Gain", None, Channels.STEREO, ()))
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


@pytest.mark.long
def test_deep_says_what_made_one_of_the_other(tmp_path):
    """A limiter behind a high-pass, later and turned over; what it is to A is told in words and as data."""
    from scipy.ndimage import minimum_filter1d, uniform_filter1d
    from scipy.signal import butter, sosfilt

    music = 3 * programme(8.0, RATE_HZ)
    driven = 2 * sosfilt(butter(2, 30, "high", fs=RATE_HZ, output="sos"), music)
    wanted = np.minimum(1, 1 / np.maximum(np.abs(driven).max(axis=0), 1e-9))
    limited = driven * uniform_filter1d(minimum_filter1d(wanted, 81), 41)
    written(tmp_path / "mix.wav", music)
    written(tmp_path / "master.wav", np.pad(-limited, ((0, 0), (160, 0))))
    plain = sweeper("compare", "mix.wav", "master.wav", cwd=tmp_path)
    ran = sweeper("compare", "mix.wav", "master.wav", "--deep", cwd=tmp_path)
    assert (ran.code, ran.err) == (0, "")
    told = [line for line in ran.out.splitlines() if line not in plain.out.splitlines()]
    assert told[0].startswith("inside, 0:00.0-0:08.0 of A: residue -")
    assert told[1].startswith("attenuation: 5 % of the loudest 30 s above ")
    data = sweeper("compare", "mix.wav", "master.wav", "--deep", "--json", cwd=tmp_path).data
    inside = data.pop("inside")
    assert -60 < inside["residue_db"] < -20
    assert inside["residue_floor_db"] < inside["residue_db"] - 6
    reduction_db = -20 * np.log10(uniform_filter1d(minimum_filter1d(wanted, 81), 41))
    assert inside["attenuation_most_db"] == pytest.approx(np.percentile(reduction_db, 99.9), abs=1)
    assert data == sweeper("compare", "mix.wav", "master.wav", "--json", cwd=tmp_path).data


@pytest.mark.parametrize(("other", "reason"), [
    (programme(4.0, RATE_HZ, seed=9), "nothing can be aligned"),
    (np.zeros((2, 4 * RATE_HZ)), "nothing can be aligned"),
])  # fmt: skip
@pytest.mark.long
def test_deep_without_an_answer_has_a_reason(tmp_path, other, reason):
    written(tmp_path / "a.wav", programme(4.0, RATE_HZ))
    written(tmp_path / "b.wav", other)
    ran = sweeper("compare", "a.wav", "b.wav", "--deep", cwd=tmp_path)
    assert ran.code == 0 and f"inside: {reason}" in ran.out
    inside = sweeper("compare", "a.wav", "b.wav", "--deep", "--json", cwd=tmp_path).data["inside"]
    assert (inside["residue_db"], inside["residue_floor_db"], inside["attenuation_db"]) == (None, None, None)
    assert inside["remarks"] == [reason]
