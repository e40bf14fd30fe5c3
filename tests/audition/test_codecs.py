"""Lossy previews: in time to the sample, as long as they were, their overshoot measured; held against ffmpeg."""

from __future__ import annotations

import subprocess

import numpy as np
import pytest
import signals
import soundfile

from sweeper import meter
from sweeper.audio import AudioFormat
from sweeper.audition import codecs
from sweeper.audition.codecs import CODECS, CodeOrder, code, delay_frames, of_length, shifted
from sweeper.meter.alignment import fine_lag
from sweeper.workers.report import Report

REPORT = Report(lambda message: None)


def coded(folder, sound, rate_hz, codec):
    soundfile.write(folder / "in.wav", sound.T, rate_hz, subtype="FLOAT")
    found = code(CodeOrder(folder / "in.wav", folder / "out.wav", codec.key), REPORT)
    back, rate = soundfile.read(folder / "out.wav", dtype="float32", always_2d=True)
    assert rate == rate_hz
    return found, np.ascontiguousarray(back.T)


@pytest.mark.parametrize("codec", CODECS, ids=lambda codec: codec.key)
@pytest.mark.parametrize(("rate_hz", "channels"), [
    (44100, 2), pytest.param(48000, 1, marks=pytest.mark.long), pytest.param(96000, 2, marks=pytest.mark.long),
])  # fmt: skip
def test_a_preview_lies_on_its_original_to_the_sample(tmp_path, codec, rate_hz, channels):
    sound = signals.programme(1.7, rate_hz, channels, seed=3).astype(np.float32)
    found, back = coded(tmp_path, sound, rate_hz, codec)
    assert back.shape == sound.shape
    third = sound.shape[1] // 3
    lag = fine_lag(sound[:, third : 2 * third], back[:, third - 500 : 2 * third + 500])
    assert lag.whole == 500
    assert lag.frames == pytest.approx(500, abs=0.1)
    assert not any(lag.inverted)
    assert found.coded_rate_hz == (48000 if codec.key == "opus" or rate_hz > 44100 else 44100)
    assert 30 < found.bitrate_kbps < 200


@pytest.mark.parametrize("codec", CODECS, ids=lambda codec: codec.key)
@pytest.mark.parametrize("late", [1105, *(pytest.param(late, marks=pytest.mark.long) for late in (529, -37))])
def test_a_delay_that_the_library_leaves_in_is_found_and_taken_out(tmp_path, codec, late, monkeypatch):
    """As with a decoder that knows nothing of padding: LAME and the decoder leave 1,105 frames, from memory."""
    as_it_is = codecs._decoded

    def delayed(path):
        whole = np.concatenate(list(as_it_is(path)), axis=1)
        yield np.pad(whole, ((0, 0), (late, 0))) if late > 0 else whole[:, -late:]

    monkeypatch.setattr(codecs, "_decoded", delayed)
    delay_frames.cache_clear()
    try:
        sound = signals.programme(1.0, 48000, seed=4).astype(np.float32)
        found, back = coded(tmp_path, sound, 48000, codec)
        assert found.delay_frames == late
        assert fine_lag(sound[:, 15000:30000], back[:, 14500:30500]).whole == 500
    finally:
        delay_frames.cache_clear()


def test_another_decoder_hears_the_same_overshoot(tmp_path):
    """ffmpeg decodes what libsndfile encoded: the true peak that is told is the one that players get."""
    rate_hz, codec = 44100, CODECS[0]
    loud = np.clip(np.random.default_rng(8).standard_normal((2, rate_hz)), -0.98, 0.98).astype(np.float32)
    _, back = coded(tmp_path, loud, rate_hz, codec)
    same = codecs._encoded(tmp_path, codec, rate_hz, 2, [loud])
    subprocess.run(["ffmpeg", "-v", "error", "-i", same, "-c:a", "pcm_f32le", tmp_path / "ffmpeg.wav"],
                   check=True)  # fmt: skip
    theirs, _ = soundfile.read(tmp_path / "ffmpeg.wav", dtype="float32", always_2d=True)
    ours, outside = (meter.measure(one, AudioFormat(2, rate_hz))["true_peak_dbtp"]
                     for one in (back, np.ascontiguousarray(theirs.T)))  # fmt: skip
    assert ours == pytest.approx(outside, abs=0.05)
    assert ours > 0.5, "clipped sound overshoots when its high frequencies are left out"


@pytest.mark.parametrize(("rate_hz", "mp3", "opus"), [
    (44100, 44100, 48000), (48000, 48000, 48000), (88200, 44100, 48000), (96000, 48000, 48000), (176400, 44100, 48000),
    (192000, 48000, 48000), (22050, 44100, 48000), (32000, 32000, 48000), (50000, 48000, 48000),
    (37800, 44100, 48000),
])  # fmt: skip
def test_each_codec_is_given_the_nearest_of_its_own_rates(rate_hz, mp3, opus):
    assert (CODECS[0].rate_for(rate_hz), CODECS[2].rate_for(rate_hz)) == (mp3, opus)


def test_blocks_are_shifted_and_cut_wherever_they_end():
    sound = np.arange(1.0, 11.0, dtype=np.float32)[None]
    for size in (1, 3, 10):
        blocks = [sound[:, at : at + size] for at in range(0, 10, size)]
        joined = np.concatenate(list(of_length(shifted(iter(blocks), 4, 1), 8, 1)), axis=1)
        assert joined[0].tolist() == [5, 6, 7, 8, 9, 10, 0, 0]
        joined = np.concatenate(list(of_length(shifted(iter(blocks), -2, 1), 5, 1)), axis=1)
        assert joined[0].tolist() == [0, 0, 1, 2, 3]
