"""The length of an MP3, against what was encoded into it."""

import subprocess

import numpy as np
import pytest
import soundfile

from sweeper.audio import blocks, inspect
from sweeper.audio.mpeg import stream_s
from sweeper.errors import AudioFileError


@pytest.fixture
def encoded(tmp_path):
    """Ten seconds, quiet first and dense later, encoded by ffmpeg (LAME) as asked."""

    def encode(*options, rate_hz=48000):
        t = np.arange(10 * rate_hz) / rate_hz
        sound = np.sin(2 * np.pi * 440 * t) * 0.1
        sound[len(t) // 5 :] += np.random.default_rng(2).normal(0, 0.2, len(t) - len(t) // 5)
        soundfile.write(tmp_path / "a.wav", np.stack([sound, sound[::-1]], 1).clip(-1, 1), rate_hz)
        command = ["ffmpeg", "-v", "error", "-y", "-i", tmp_path / "a.wav", *options, tmp_path / "a.mp3"]
        subprocess.run(command, check=True)
        return tmp_path / "a.mp3"

    return encode


@pytest.mark.parametrize("rate_hz", [16000, 22050, 32000, 44100, 48000, 11025])
@pytest.mark.parametrize("options", [("-b:a", "64k"), ("-q:a", "4")], ids=["constant", "variable"])
def test_the_frames_add_up_to_the_length_that_was_encoded(encoded, rate_hz, options):
    """The encoder adds a length frame, its delay and its padding: never more than 0.25 s, never less than none."""
    path = encoded(*options, rate_hz=rate_hz)
    assert 10.0 <= stream_s(path) <= 10.25
    assert inspect(path).duration_s == pytest.approx(10.0, abs=1e-9)


def test_constant_rate_without_a_length_header_is_read(encoded):
    file = inspect(encoded("-b:a", "192k", "-write_xing", "0"))
    frames = sum(block.shape[1] for block in blocks(file, 4096))
    assert 10.0 <= frames / 48000 <= 10.1


def test_variable_rate_without_a_length_header_is_refused_rather_than_halved(encoded):
    path = encoded("-q:a", "4", "-write_xing", "0")
    assert soundfile.info(path).duration < 9.5 or soundfile.info(path).duration > 10.5
    with pytest.raises(AudioFileError, match=r"cut short: 10\.\d+ s of|it holds 10\.\d+ s of sound"):
        inspect(path)


def test_a_large_picture_in_the_tag_is_passed_over(encoded):
    path = encoded("-b:a", "128k")
    before, content = stream_s(path), path.read_bytes()
    start = 10 + int.from_bytes(content[8:10], "big") if content[:3] == b"ID3" else 0
    picture = b"\xff\xfb\x90\x64" * 50000
    size = bytes(len(picture) >> shift & 0x7F for shift in (21, 14, 7, 0))
    path.write_bytes(b"ID3\x04\x00\x00" + size + picture + content[start:])
    assert stream_s(path) == pytest.approx(before, abs=0.05)


def test_what_is_no_mp3_has_no_frames(tmp_path):
    (tmp_path / "a").write_bytes(b"\x00\x01\xff\xff\xff" * 1000)
    assert stream_s(tmp_path / "a") == 0.0
