"""The chunks of a file, against files written by libsndfile and ffmpeg."""

import io
import struct

import pytest
import soundfile

from sweeper.audio.chunks import MOST_CHUNKS, Chunk, SoundExtent, chunks, sound_extent

SOUND_BYTES = 2 * 3 * 1001


@pytest.mark.parametrize("name", ["a.wav", "a.rf64", "a.aiff", "a.w64", "a.caf"])
def test_the_sound_is_found_to_the_byte(tmp_path, noise, name):
    path = tmp_path / name
    soundfile.write(path, noise(2, 1001).T, 48000, subtype="PCM_24")
    extent = sound_extent(path)
    assert extent is not None
    assert extent.promised_bytes == SOUND_BYTES
    assert SOUND_BYTES <= extent.there_bytes <= SOUND_BYTES + 8


def test_big_endian_wav_is_read(tmp_path, noise):
    path = tmp_path / "a.wav"
    soundfile.write(path, noise(2, 1001).T, 48000, subtype="PCM_24", endian="BIG")
    assert path.read_bytes()[:4] == b"RIFX"
    assert sound_extent(path) == SoundExtent(SOUND_BYTES, SOUND_BYTES)


@pytest.mark.parametrize("name", ["a.flac", "a.ogg", "a.au"])
def test_files_of_other_kinds_have_no_chunks(tmp_path, noise, name):
    soundfile.write(tmp_path / name, noise(2, 1001).T, 48000)
    assert sound_extent(tmp_path / name) is None


def scan(*parts):
    return list(chunks(io.BytesIO(b"RIFF\x00\x00\x00\x00WAVE" + b"".join(parts))))


def chunk(name, content, size=None):
    return name + struct.pack("<I", len(content) if size is None else size) + content


def test_a_chunk_of_odd_length_is_followed_by_a_pad_byte():
    found = scan(chunk(b"LIST", b"abc") + b"\0", chunk(b"bext", b"xy"))
    assert found == [Chunk(b"LIST", 20, 3), Chunk(b"bext", 32, 2)]


def test_nothing_is_read_behind_a_chunk_left_open():
    assert scan(chunk(b"data", b"abcd", 0xFFFFFFFF), chunk(b"bext", b"xy")) == [Chunk(b"data", 20, None)]


def test_a_chunk_that_promises_more_than_the_file_is_the_last():
    assert scan(chunk(b"data", b"abcd", 1000), chunk(b"bext", b"xy")) == [Chunk(b"data", 20, 1000)]


def test_a_sea_of_zeros_is_not_searched_to_its_end():
    assert len(scan(bytes(8 * MOST_CHUNKS * 3))) == MOST_CHUNKS


def test_chunks_of_size_0_in_a_format_that_counts_the_head_move_on():
    assert len(list(chunks(io.BytesIO(b"riff" + bytes(36) + bytes(24 * 5))))) == 5


@pytest.mark.parametrize("content", [b"", b"RI", b"RIFF", b"RIFF\x00\x00\x00\x00WAVEda", b"RF64" + bytes(8) + b"ds64"])
def test_a_stump_has_no_chunks(content):
    assert list(chunks(io.BytesIO(content))) == []


def test_the_long_size_of_rf64_comes_from_ds64():
    ds64 = chunk(b"ds64", struct.pack("<QQQI", 0, 2**33, 2**30, 0))
    found = list(chunks(io.BytesIO(b"RF64\xff\xff\xff\xffWAVE" + ds64 + b"data\xff\xff\xff\xff")))
    assert found[-1] == Chunk(b"data", 56, 2**33)


@pytest.mark.parametrize("size", [0, 2**64 - 1])
def test_an_rf64_that_was_streamed_promises_nothing(size):
    ds64 = chunk(b"ds64", struct.pack("<QQQI", 0, size, 0, 0))
    found = list(chunks(io.BytesIO(b"RF64\xff\xff\xff\xffWAVE" + ds64 + b"data\xff\xff\xff\xff")))
    assert found[-1].size is None
