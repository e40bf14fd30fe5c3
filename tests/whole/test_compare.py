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
