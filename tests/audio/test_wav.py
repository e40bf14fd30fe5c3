"""Our WAV files, read back by soundfile (libsndfile), by ffmpeg and by their bytes."""

import hashlib
import os
import struct

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from sweeper.audio import BroadcastTag, WavWriter, inspect, pack, read_tag
from sweeper.audio.wav import header
from sweeper.errors import RunFolderError

TAG = BroadcastTag("8f3c19d2", "2026-11-24", "18:05:09", -10.02, 5.5, -1.0, -7.25, -8.5)
RATES_HZ = [8000, 44100, 48000, 88200, 96000, 176400, 192000, 384000]


def write(path, samples, rate_hz=48000, block_frames=1000, **options):
    with WavWriter(path, samples.shape[0], rate_hz, **options) as writer:
        for start in range(0, samples.shape[1], block_frames):
            writer.write(samples[:, start : start + block_frames])
        writer.commit(TAG)


def read(path):
    return soundfile.read(path, dtype="float32", always_2d=True)[0].T


@pytest.mark.parametrize("channels", [1, 2, 3, 4, 5, 6, 8])
def test_every_channel_comes_back_bit_for_bit(tmp_path, noise, ffmpeg_samples, channels):
    path, samples = tmp_path / "a.wav", noise(channels, 4321)
    write(path, samples)
    assert np.array_equal(read(path), samples)
    assert np.array_equal(ffmpeg_samples(path, channels), samples)


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_every_rate_is_kept(tmp_path, noise, ffprobe, rate_hz):
    path = tmp_path / "a.wav"
    write(path, noise(2, 321), rate_hz)
    told = soundfile.info(path)
    assert (told.samplerate, told.frames, told.subtype, told.format) == (rate_hz, 321, "FLOAT", "WAV")
    stream = ffprobe(path)["streams"][0]
    assert (stream["codec_name"], stream["sample_rate"]) == ("pcm_f32le", str(rate_hz))


#: ffmpeg's names of the layouts that the speaker masks stand for (Microsoft's order of speakers)
@pytest.mark.parametrize("channels, layout", [(3, "3.0"), (4, "quad"), (5, "5.0"), (6, "5.1"), (8, "7.1")])
def test_more_than_two_channels_say_their_speakers(tmp_path, noise, ffprobe, channels, layout):
    path = tmp_path / "a.wav"
    write(path, noise(channels, 10))
    assert ffprobe(path)["streams"][0]["channel_layout"] == layout


def test_the_layout_of_the_chunks_is_the_standards(tmp_path, noise):
    """EBU Tech 3306: 28 bytes of JUNK first, in the place of ds64; EBU Tech 3285: bext before data."""
    path = tmp_path / "a.wav"
    write(path, noise(2, 50))
    content = path.read_bytes()
    assert content[:4] == b"RIFF" and content[8:12] == b"WAVE"
    assert struct.unpack_from("<I", content, 4) == (len(content) - 8,)
    assert content[12:20] == b"JUNK" + struct.pack("<I", 28)
    assert content[48:56] == b"bext" + struct.pack("<I", 602)
    assert content[56:658] == pack(TAG)
    assert content[658:666] == b"fmt " + struct.pack("<I", 18)
    assert struct.unpack_from("<HHIIHHH", content, 666) == (3, 2, 48000, 384000, 8, 32, 0)
    assert content[684:696] == b"fact" + struct.pack("<II", 4, 50)
    assert content[696:704] == b"data" + struct.pack("<I", 400)
    assert len(content) == 704 + 400


def test_past_the_limit_the_file_is_rf64(tmp_path, noise, ffprobe, ffmpeg_samples):
    path, samples = tmp_path / "a.wav", noise(2, 5000)
    write(path, samples, largest_riff_bytes=20000)
    content = path.read_bytes()
    assert content[:20] == b"RF64\xff\xff\xff\xffWAVEds64" + struct.pack("<I", 28)
    assert struct.unpack_from("<QQQI", content, 20) == (len(content) - 8, 40000, 5000, 0)
    assert soundfile.info(path).format == "RF64"
    assert np.array_equal(read(path), samples)
    assert np.array_equal(ffmpeg_samples(path, 2), samples)
    assert ffprobe(path)["format"]["tags"]["originator_reference"] == "8f3c19d2"
    assert read_tag(path) == TAG
    assert inspect(path).frames == 5000


def test_the_limit_itself_is_still_riff(tmp_path, noise):
    size = 704 - 8 + 8 * 100
    write(tmp_path / "at.wav", noise(2, 100), largest_riff_bytes=size)
    write(tmp_path / "past.wav", noise(2, 100), largest_riff_bytes=size - 1)
    assert (tmp_path / "at.wav").read_bytes()[:4] == b"RIFF"
    assert (tmp_path / "past.wav").read_bytes()[:4] == b"RF64"


def test_four_gigabytes_is_where_a_32_bit_size_ends():
    """RIFF sizes are unsigned 32-bit: 2^32 - 1 bytes behind the first eight."""
    most = (2**32 - 1 - (704 - 8)) // 8
    assert header(2, 96000, most, TAG)[:4] == b"RIFF"
    past = header(2, 96000, most + 1, TAG)
    assert past[:4] == b"RF64"
    assert struct.unpack_from("<QQQ", past, 20) == (704 - 8 + 8 * (most + 1), 8 * (most + 1), most + 1)


def test_a_file_past_four_gigabytes_is_read_by_others(tmp_path, ffprobe):
    """A sparse file: our header for 100 minutes at 96 kHz and as many zero bytes, which take no room on the disk."""
    path, frames = tmp_path / "long.wav", 576_000_000
    head = header(2, 96000, frames, TAG)
    with path.open("wb") as handle:
        handle.write(head)
        handle.truncate(len(head) + 8 * frames)
    assert soundfile.info(path).frames == frames
    assert inspect(path).duration_s == 6000.0
    assert float(ffprobe(path)["format"]["duration"]) == 6000.0
    assert read_tag(path) == TAG


def test_the_header_is_as_long_for_any_number_of_frames():
    assert len({len(header(2, 48000, frames, TAG)) for frames in (None, 0, 1, 2**33)}) == 1


def test_a_file_of_one_frame(tmp_path, noise, ffmpeg_samples):
    path, samples = tmp_path / "a.wav", noise(2, 1)
    write(path, samples)
    assert np.array_equal(read(path), samples)
    assert np.array_equal(ffmpeg_samples(path, 2), samples)


def test_float64_is_written_as_the_nearest_float32(tmp_path):
    samples = np.random.default_rng(5).normal(0, 1, (2, 500))
    write(tmp_path / "a.wav", samples)
    assert np.array_equal(read(tmp_path / "a.wav"), samples.astype(np.float32))


def test_any_memory_order_is_written_as_it_reads(tmp_path, noise):
    samples = np.asfortranarray(noise(2, 600))[:, ::-2]
    write(tmp_path / "a.wav", samples)
    assert np.array_equal(read(tmp_path / "a.wav"), samples)


finite32 = st.floats(width=32, allow_nan=False, allow_infinity=False)
shapes = st.tuples(st.integers(1, 3), st.integers(1, 40))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(samples=arrays.arrays(np.float32, shapes, elements=finite32), block_frames=st.integers(1, 50))
def test_any_finite_sample_comes_back_bit_for_bit(tmp_path_factory, samples, block_frames):
    path = tmp_path_factory.mktemp("any") / "a.wav"
    write(path, samples, block_frames=block_frames)
    assert read(path).tobytes() == np.ascontiguousarray(samples).tobytes()


@pytest.mark.parametrize("value", [1e-45, -1e-40, -0.0, 1.0000001, -7.5, 3.4e38], ids=repr)
def test_denormals_signed_zero_and_overs_are_kept(tmp_path, value):
    samples = np.full((2, 3), value, np.float32)
    write(tmp_path / "a.wav", samples)
    assert read(tmp_path / "a.wav").tobytes() == samples.tobytes()


@pytest.mark.parametrize("name", ["two words.wav", "Grüße aus Köln.wav", "#1 mix, 'last' (50 %).wav", "日本.wav"])
def test_any_file_name(tmp_path, noise, name):
    write(tmp_path / name, noise(2, 10))
    assert np.array_equal(read(tmp_path / name), noise(2, 10))
    assert [each.name for each in tmp_path.iterdir()] == [name]


def test_an_interrupted_writer_leaves_nothing(tmp_path, noise):
    with pytest.raises(KeyboardInterrupt), WavWriter(tmp_path / "a.wav", 2, 48000) as writer:
        writer.write(noise(2, 1000))
        assert [each.name.startswith(".a.wav.part") for each in tmp_path.iterdir()] == [True]
        raise KeyboardInterrupt
    assert list(tmp_path.iterdir()) == []


def test_the_samples_are_on_the_disk_before_the_file_has_its_name(tmp_path, noise, monkeypatch):
    synced = []
    monkeypatch.setattr(os, "fsync", lambda number: synced.append((os.fstat(number).st_size, path.exists())))
    path = tmp_path / "a.wav"
    write(path, noise(2, 1000))
    assert synced == [(704 + 8000, False)]


def test_a_file_that_may_be_lost_does_not_wait_for_the_disk(tmp_path, noise, monkeypatch):
    synced = []
    monkeypatch.setattr(os, "fsync", synced.append)
    write(tmp_path / "a.wav", noise(2, 1000), lasting=False)
    assert synced == []
    assert np.array_equal(read(tmp_path / "a.wav"), noise(2, 1000))


def test_a_digest_is_given_every_sample_as_it_is_written(tmp_path, noise):
    digest = hashlib.sha256()
    write(tmp_path / "a.wav", noise(2, 4321).astype(np.float64), digest=digest)
    interleaved = soundfile.read(tmp_path / "a.wav", dtype="float32")[0].astype("<f4").tobytes()
    assert digest.hexdigest() == hashlib.sha256(interleaved).hexdigest()


def test_without_commit_nothing_appears(tmp_path, noise):
    with WavWriter(tmp_path / "a.wav", 2, 48000) as writer:
        writer.write(noise(2, 1000))
    assert list(tmp_path.iterdir()) == []


def test_an_unfinished_part_can_still_be_opened(tmp_path, noise):
    """What a power cut leaves: sizes at all ones, as streaming writers do."""
    samples = noise(2, 1000)
    with WavWriter(tmp_path / "a.wav", 2, 48000) as writer:
        writer.write(samples)
        (part,) = tmp_path.iterdir()
        assert np.array_equal(read(part), samples)
        assert inspect(part).frames == 1000


def test_an_existing_file_is_refused_before_anything_is_rendered(tmp_path):
    path = tmp_path / "a.wav"
    path.write_bytes(b"precious")
    with pytest.raises(RunFolderError, match="nothing is ever overwritten") as caught:
        WavWriter(path, 2, 48000).__enter__()
    assert "another name" in caught.value.remedy
    assert path.read_bytes() == b"precious"
    assert list(tmp_path.iterdir()) == [path]


def test_a_file_that_appears_meanwhile_is_not_overwritten(tmp_path, noise):
    path = tmp_path / "a.wav"
    with pytest.raises(RunFolderError, match="nothing is ever overwritten"), WavWriter(path, 2, 48000) as writer:
        writer.write(noise(2, 10))
        path.write_bytes(b"precious")
        writer.commit(TAG)
    assert path.read_bytes() == b"precious"
    assert list(tmp_path.iterdir()) == [path]


def test_two_writers_of_one_name_do_not_meet(tmp_path, noise):
    path = tmp_path / "a.wav"
    with WavWriter(path, 2, 48000) as first, WavWriter(path, 2, 48000) as second:
        first.write(noise(2, 10, seed=1))
        second.write(noise(2, 20, seed=2))
        first.commit(TAG)
        with pytest.raises(RunFolderError, match="nothing is ever overwritten"):
            second.commit(TAG)
    assert np.array_equal(read(path), noise(2, 10, seed=1))
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_that_is_not_there(tmp_path, noise):
    with pytest.raises(RunFolderError, match="gone is not there") as caught:
        write(tmp_path / "gone" / "a.wav", noise(2, 10))
    assert caught.value.remedy == "make it, or connect the disk again"


def test_a_folder_that_vanishes_meanwhile(tmp_path, noise):
    folder = tmp_path / "gone"
    folder.mkdir()
    with (
        pytest.raises(RunFolderError, match="gone is not there"),
        WavWriter(folder / "a.wav", 2, 48000) as writer,
    ):
        writer.write(noise(2, 10))
        folder.rename(tmp_path / "elsewhere")
        writer.commit(TAG)


def test_a_folder_that_is_a_file(tmp_path, noise):
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(RunFolderError, match="file is not a folder"):
        write(tmp_path / "file" / "a.wav", noise(2, 10))


@pytest.mark.parametrize("shape", [(3, 10), (10,), (1, 10), (10, 2)], ids=str)
def test_a_block_of_another_shape_is_a_mistake_of_ours(tmp_path, shape):
    with (
        WavWriter(tmp_path / "a.wav", 2, 48000) as writer,
        pytest.raises(ValueError, match=r"a block of float \(2, frames\) is expected"),
    ):
        writer.write(np.zeros(shape, np.float32))


def test_integers_are_not_taken_for_samples(tmp_path):
    with WavWriter(tmp_path / "a.wav", 2, 48000) as writer, pytest.raises(ValueError, match="not int16"):
        writer.write(np.zeros((2, 10), np.int16))
