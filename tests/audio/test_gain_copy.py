"""Listening copies: the same samples, louder or quieter."""

import numpy as np
import pytest
import soundfile

from sweeper.audio import BroadcastTag, WavWriter, audio_hash, inspect, read_tag, write_gained
from sweeper.errors import AudioFileError, RunFolderError

TAG = BroadcastTag("8f3c19d2", "2026-11-24", "18:05:09", -10.02, 5.5, -1.0, -7.25, -8.5)


@pytest.fixture
def render(tmp_path, noise):
    path = tmp_path / "render.wav"
    with WavWriter(path, 2, 48000) as writer:
        writer.write(noise(2, 150000) * np.float32(3.0))
        writer.commit(TAG)
    return path


def test_no_gain_is_bit_identical(render, tmp_path):
    write_gained(render, tmp_path / "matched.wav", 0.0)
    assert audio_hash(inspect(tmp_path / "matched.wav")) == audio_hash(inspect(render))
    assert (tmp_path / "matched.wav").read_bytes() == render.read_bytes()


def test_no_gain_keeps_denormals(tmp_path):
    samples = np.array([[1e-45, -1e-40, -0.0, 2.5]], np.float32)
    soundfile.write(tmp_path / "a.wav", samples.T, 48000, subtype="FLOAT")
    write_gained(tmp_path / "a.wav", tmp_path / "b.wav", 0.0)
    assert soundfile.read(tmp_path / "b.wav", dtype="float32")[0].tobytes() == samples.tobytes()


def test_six_db_down_is_half_the_amplitude(render, tmp_path):
    """20 log10(1/2) = -6.0206 dB: halving is exact in binary, so nothing may be lost."""
    write_gained(render, tmp_path / "matched.wav", 20 * np.log10(0.5))
    before, after = (soundfile.read(path, dtype="float32")[0] for path in (render, tmp_path / "matched.wav"))
    assert np.array_equal(after, before * np.float32(0.5))


def test_the_copy_is_32_bit_float_and_never_clips(render, tmp_path):
    write_gained(render, tmp_path / "matched.wav", 6.0)
    before, after = (soundfile.read(path, dtype="float32")[0] for path in (render, tmp_path / "matched.wav"))
    assert soundfile.info(tmp_path / "matched.wav").subtype == "FLOAT"
    assert after.max() > 2.9
    assert np.allclose(after, before * 10 ** (6 / 20), rtol=1e-6, atol=0)


def test_the_copy_says_its_own_loudness(render, tmp_path):
    write_gained(render, tmp_path / "matched.wav", -2.0)
    assert read_tag(tmp_path / "matched.wav") == BroadcastTag(
        "8f3c19d2", "2026-11-24", "18:05:09", -12.02, 5.5, -3.0, -9.25, -10.5
    )


def test_a_tag_that_is_given_is_written(render, tmp_path):
    given = BroadcastTag("other", "2026-12-01", "00:00:00")
    write_gained(render, tmp_path / "matched.wav", -2.0, given)
    assert read_tag(tmp_path / "matched.wav") == given


def test_a_source_without_a_tag_and_with_more_channels(tmp_path, noise):
    soundfile.write(tmp_path / "a.wav", noise(6, 500).T, 96000, subtype="PCM_24")
    write_gained(tmp_path / "a.wav", tmp_path / "b.wav", 0.0)
    assert np.array_equal(soundfile.read(tmp_path / "a.wav")[0], soundfile.read(tmp_path / "b.wav")[0])
    assert read_tag(tmp_path / "b.wav") == BroadcastTag("", "", "")


def test_nothing_is_overwritten_not_even_the_source(render):
    before = render.read_bytes()
    with pytest.raises(RunFolderError, match="nothing is ever overwritten"):
        write_gained(render, render, -1.0)
    assert render.read_bytes() == before


def test_a_damaged_source_leaves_no_copy(tmp_path, noise):
    samples = noise(2, 100000)
    samples[1, 90000] = np.nan
    soundfile.write(tmp_path / "a.wav", samples.T, 48000, subtype="FLOAT")
    with pytest.raises(AudioFileError, match="not a number"):
        write_gained(tmp_path / "a.wav", tmp_path / "b.wav", -1.0)
    assert [each.name for each in tmp_path.iterdir()] == ["a.wav"]
