"""The samples of a sound file, block by block, and the hashes of file and sound."""

import hashlib
import struct

import numpy as np
import pytest
import soundfile

from sweeper.audio import audio_hash, blocks, file_hash, inspect
from sweeper.errors import AudioFileError


@pytest.fixture
def made(tmp_path):
    def make(samples, name="a.wav", encoding="FLOAT", rate_hz=48000):
        path = tmp_path / name
        soundfile.write(path, samples.T, rate_hz, subtype=encoding)
        return inspect(path)

    return make


def joined(file, block_frames=1000, start=0, end=None):
    return np.concatenate(list(blocks(file, block_frames, start, end)), axis=1)


@pytest.mark.parametrize("channels", [1, 2, 6])
def test_a_block_is_channels_by_frames_contiguous_float32(made, noise, channels):
    file = made(noise(channels, 2500))
    read = list(blocks(file, 1000))
    assert [each.shape for each in read] == [(channels, 1000), (channels, 1000), (channels, 500)]
    assert all(each.dtype == np.float32 and each.flags.c_contiguous for each in read)


@pytest.mark.parametrize("block_frames", [1, 7, 1000, 3333, 10**6])
def test_the_size_of_the_blocks_changes_nothing(made, noise, block_frames):
    samples = noise(2, 3333)
    assert np.array_equal(joined(made(samples), block_frames), samples)


@pytest.mark.parametrize("encoding, step", [("PCM_16", 2**-15), ("PCM_24", 2**-23)])
def test_integers_read_as_their_value_over_full_scale(made, encoding, step):
    """A 16-bit sample of n is n / 32768, a 24-bit one n / 2^23 (two's complement fractions)."""
    samples = np.array([[1, -1, 100, -(2**14)], [0, 2, -2, 2**14 - 1]]) * step
    assert np.array_equal(joined(made(samples, encoding=encoding)), samples.astype(np.float32))


def test_floats_over_full_scale_are_not_clamped(made):
    samples = np.array([[2.5, -7.0, 1.0000001, 1e-45]], np.float32)
    assert joined(made(samples)).tobytes() == samples.tobytes()


@pytest.mark.parametrize("name, encoding", [
    ("a.wav", "PCM_24"), ("a.flac", "PCM_24"), ("a.aiff", "PCM_16"), ("a.ogg", "VORBIS"), ("a.mp3", "MPEG_LAYER_III"),
])  # fmt: skip
def test_a_stretch_is_what_stands_there_in_the_whole(made, noise, name, encoding):
    file = made(noise(2, 50000), name, encoding)
    whole = joined(file)
    assert whole.shape == (2, 50000)
    assert np.array_equal(joined(file, 900, 12345, 23456), whole[:, 12345:23456])
    assert np.array_equal(joined(file, 900, 49999), whole[:, 49999:])


def test_a_stretch_of_nothing_has_no_blocks(made, noise):
    file = made(noise(2, 100))
    assert list(blocks(file, 10, 50, 50)) == []
    assert list(blocks(file, 10, 100)) == []


@pytest.mark.parametrize("block_frames, start, end", [(0, 0, None), (10, -1, None), (10, 0, 101), (10, 60, 50)])
def test_a_stretch_outside_the_file_is_a_mistake_of_ours(made, noise, block_frames, start, end):
    with pytest.raises(ValueError, match="of 100"):
        blocks(made(noise(2, 100)), block_frames, start, end)


@pytest.mark.parametrize("value, word", [(np.nan, "not a number (NaN)"), (np.inf, "infinite"), (-np.inf, "infinite")])
@pytest.mark.parametrize("channel, side", [(0, "left channel"), (1, "right channel")])
def test_a_sample_that_is_no_number_is_named_with_its_time(made, noise, value, word, channel, side):
    samples = noise(2, 48000 * 3)
    samples[channel, 48000 * 2 + 24000] = value
    file = made(samples)
    with pytest.raises(AudioFileError) as caught:
        joined(file, 4096)
    assert caught.value.what == f"{file.path}: {side}, at 0:02.5 (frame 120000): the sample is {word}"
    assert "bypass the plugins one by one" in caught.value.remedy


@pytest.mark.parametrize("channels, name", [(1, "mono channel"), (6, "channel 1")])
def test_the_channel_is_named_as_the_engineer_calls_it(made, noise, channels, name):
    samples = noise(channels, 100)
    samples[0, 50] = np.nan
    with pytest.raises(AudioFileError, match=f"{name}, at 0:00.0 \\(frame 50\\)"):
        joined(made(samples))


def test_the_blocks_before_a_bad_sample_are_delivered(made, noise):
    samples = noise(2, 3000)
    samples[0, 2500] = np.nan
    stream = blocks(made(samples), 1000)
    assert np.array_equal(next(stream), samples[:, :1000])
    assert np.array_equal(next(stream), samples[:, 1000:2000])
    with pytest.raises(AudioFileError, match="frame 2500"):
        next(stream)


def test_opposite_infinities_do_not_hide_each_other(made):
    samples = np.array([[np.inf, -np.inf, 0, 0]], np.float32)
    with pytest.raises(AudioFileError, match="infinite"):
        joined(made(samples))


def test_huge_samples_are_not_taken_for_infinite_ones(made):
    samples = np.full((2, 100), 3e38, np.float32)
    assert np.array_equal(joined(made(samples)), samples)


def test_a_double_beyond_float32_is_infinite(made):
    with pytest.raises(AudioFileError, match="infinite"):
        joined(made(np.full((1, 10), 1e300), encoding="DOUBLE"))


def test_denormal_doubles_read_as_nothing(made):
    assert not joined(made(np.full((1, 10), 1e-310), encoding="DOUBLE")).any()


def test_a_compressed_file_cut_short_is_said_while_reading(made, noise):
    file = made(noise(2, 480000), "a.flac", "PCM_16")
    content = file.path.read_bytes()
    file.path.write_bytes(content[: len(content) // 2])
    with pytest.raises(AudioFileError, match=r"damaged: nothing can be read after 0:0\d\.\d of 0:10.0") as caught:
        joined(file)
    assert caught.value.remedy == "bounce or copy it again, whole"


def test_a_compressed_file_that_promises_more_than_it_holds_is_said(made, noise):
    """FLAC format, STREAMINFO: the 36-bit number of frames ends at byte 18 of the block, which starts at 8."""
    file = made(noise(2, 48000), "a.flac", "PCM_16")
    content = bytearray(file.path.read_bytes())
    content[22:26] = (96000).to_bytes(4, "big")
    file.path.write_bytes(content)
    file = inspect(file.path)
    assert file.duration_s == 2.0
    with pytest.raises(AudioFileError, match=r"nothing can be read after 0:01.0 of 0:02.0"):
        joined(file)


def test_a_decoder_that_stops_early_without_a_word_is_found_out(made, noise):
    """An MP3 cut after it was looked at: its header still tells the whole length, and the decoder just ends."""
    file = made(noise(2, 480000), "a.mp3", "MPEG_LAYER_III")
    content = file.path.read_bytes()
    file.path.write_bytes(content[: len(content) // 2])
    with pytest.raises(AudioFileError, match=r"nothing can be read after 0:0\d\.\d of 0:10.0"):
        joined(file)


def test_a_compressed_file_damaged_in_the_middle_is_said(made, noise):
    file = made(noise(2, 480000), "a.flac", "PCM_16")
    content = bytearray(file.path.read_bytes())
    middle = len(content) // 2
    content[middle : middle + 20] = bytes(20)
    file.path.write_bytes(content)
    with pytest.raises(AudioFileError, match="the file is damaged"):
        joined(file)


def test_a_file_that_changed_meanwhile_is_said(made, noise):
    file = made(noise(2, 1000))
    made(noise(2, 999))
    with pytest.raises(AudioFileError, match="has changed since"):
        joined(file)


def test_a_file_that_vanished_meanwhile_is_said(made, noise):
    file = made(noise(2, 1000))
    file.path.unlink()
    with pytest.raises(AudioFileError, match="there is no such file"):
        joined(file)


def test_the_hash_of_the_sound_is_the_one_in_its_docstring(made, noise):
    samples = noise(2, 70000)
    plain = b"48000 Hz 2 channels\n" + struct.pack("<140000f", *samples.T.ravel().tolist())
    assert audio_hash(made(samples)) == hashlib.sha256(plain).hexdigest()


def test_the_same_sound_in_another_wrapping_has_the_same_hash(made, noise):
    samples = np.round(noise(2, 5000) * 32768) / 32768 + 0.0  # integers know no -0.0
    wrapped = [("a.wav", "PCM_16"), ("b.wav", "PCM_24"), ("c.flac", "PCM_16"), ("d.aiff", "PCM_24"), ("e.wav", "FLOAT")]
    files = [made(samples, name, encoding) for name, encoding in wrapped]
    assert len({audio_hash(file) for file in files}) == 1
    assert len({file_hash(file.path) for file in files}) == len(files)


def test_another_sound_rate_or_channel_has_another_hash(made, noise):
    samples = noise(2, 1000)
    nearly = samples.copy()
    nearly[1, 999] = np.nextafter(nearly[1, 999], np.float32(1))
    files = [
        made(samples, "a.wav"), made(nearly, "b.wav"), made(samples, "c.wav", rate_hz=44100),
        made(samples[::-1], "d.wav"), made(samples.T.reshape(1, -1), "e.wav"),
    ]  # fmt: skip
    assert len({audio_hash(file) for file in files}) == 5


def test_the_hash_of_a_file_is_sha256(tmp_path):
    """FIPS 180-4 example: the three letters abc."""
    (tmp_path / "a").write_bytes(b"abc")
    assert file_hash(tmp_path / "a") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_the_hash_of_a_missing_file_or_a_folder(tmp_path):
    with pytest.raises(AudioFileError, match="there is no such file"):
        file_hash(tmp_path / "a")
    with pytest.raises(AudioFileError, match=r"cannot be read|no permission"):
        file_hash(tmp_path)
