"""The hash of the samples alone, against hashlib over what libsndfile decodes."""

import hashlib

import soundfile

from sweeper.audio import inspect
from sweeper.audio.sample_hash import sample_hash


def test_it_is_the_hash_of_the_interleaved_samples(tmp_path, noise):
    soundfile.write(tmp_path / "a.wav", noise(2, 150_000).T, 48000, subtype="FLOAT")
    decoded = soundfile.read(tmp_path / "a.wav", dtype="float32", always_2d=True)[0]
    assert sample_hash(inspect(tmp_path / "a.wav")) == hashlib.sha256(decoded.tobytes()).hexdigest()


def test_rate_and_wrapping_do_not_matter_and_the_order_of_channels_does(tmp_path, noise):
    samples = noise(2, 1000)
    soundfile.write(tmp_path / "a.wav", samples.T, 48000, subtype="PCM_24")
    decoded = soundfile.read(tmp_path / "a.wav")[0]
    soundfile.write(tmp_path / "b.flac", decoded, 96000, subtype="PCM_24")
    soundfile.write(tmp_path / "c.wav", decoded[:, ::-1], 48000, subtype="PCM_24")
    a, b, c = (sample_hash(inspect(tmp_path / name)) for name in ("a.wav", "b.flac", "c.wav"))
    assert a == b != c
