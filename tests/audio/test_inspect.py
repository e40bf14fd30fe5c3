"""What a sound file is said to hold, and what is said of one that cannot be used."""

import os
import re
import struct
import subprocess
import unicodedata
from pathlib import Path

import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sweeper.audio import AudioFormat, SoundFile, audio_hash, inspect
from sweeper.errors import AudioFileError

#: file name, encoding, full scale: the highest integer of n bits over 2^(n-1); float and lossy files hold 1.0
KINDS = [
    ("a.wav", "PCM_U8", 127 / 128),
    ("a.wav", "PCM_16", 32767 / 32768),
    ("a.wav", "PCM_24", 8388607 / 8388608),
    ("a.wav", "PCM_32", 2147483647 / 2147483648),
    ("a.wav", "FLOAT", 1.0),
    ("a.wav", "DOUBLE", 1.0),
    ("a.wav", "ULAW", 1.0),
    ("a.aiff", "PCM_24", 8388607 / 8388608),
    ("a.aiff", "FLOAT", 1.0),
    ("a.flac", "PCM_16", 32767 / 32768),
    ("a.flac", "PCM_24", 8388607 / 8388608),
    ("a.caf", "ALAC_24", 8388607 / 8388608),
    ("a.w64", "PCM_24", 8388607 / 8388608),
    ("a.rf64", "PCM_24", 8388607 / 8388608),
    ("a.au", "PCM_16", 32767 / 32768),
    ("a.ogg", "VORBIS", 1.0),
    ("a.mp3", "MPEG_LAYER_III", 1.0),
]
CUTTABLE = [
    ("a.wav", "PCM_16", 4), ("a.wav", "PCM_24", 6), ("a.wav", "FLOAT", 8), ("a.aiff", "PCM_24", 6),
    ("a.rf64", "PCM_24", 6), ("a.w64", "FLOAT", 8),
]  # fmt: skip


@pytest.fixture
def made(tmp_path, noise):
    def make(name="a.wav", encoding="PCM_16", frames=48000, rate_hz=48000, channels=2):
        path = tmp_path / name
        soundfile.write(path, noise(channels, frames).T, rate_hz, subtype=encoding)
        return path

    return make


def refused(path: Path) -> AudioFileError:
    with pytest.raises(AudioFileError) as caught:
        inspect(path)
    assert caught.value.what.startswith(f"{path}: ")
    assert caught.value.remedy
    return caught.value


@pytest.mark.parametrize("name, encoding, full_scale", KINDS)
def test_what_a_file_holds(made, name, encoding, full_scale):
    path = made(name, encoding, frames=44100, rate_hz=44100)
    file = inspect(path)
    assert file.format == AudioFormat(2, 44100, full_scale)
    assert (file.path, file.frames, file.encoding) == (path, 44100, encoding)
    assert file.container == path.suffix[1:].upper()
    assert file.duration_s == 1.0


@pytest.mark.parametrize("rate_hz", [8000, 22050, 44100, 48000, 88200, 96000, 176400, 192000])
@pytest.mark.parametrize("channels", [1, 2, 6])
def test_every_rate_and_number_of_channels(made, rate_hz, channels):
    file = inspect(made(rate_hz=rate_hz, channels=channels, frames=1))
    assert (file.format.rate_hz, file.format.channels, file.frames) == (rate_hz, channels, 1)


@pytest.mark.parametrize("name", ["two words.wav", "Grüße.wav", "#1 'mix' (50 %).wav", "日本.wav", "noending"])
def test_any_file_name(made, name):
    path = made("a.wav")
    assert inspect(path.rename(path.with_name(name))).frames == 48000


def test_a_file_is_known_by_what_is_in_it_and_not_by_its_name(made):
    path = made("a.flac")
    assert inspect(path.rename(path.with_name("b.wav"))).container == "FLAC"


def test_a_missing_file_and_the_nearest_name(tmp_path, made):
    made("Lantern-Bay.wav")
    told = refused(tmp_path / "lantern bay.wav")
    assert told.what.endswith("there is no such file")
    assert told.remedy == "did you mean Lantern-Bay.wav?"


def test_the_nearest_name_does_not_hang_on_capitals(tmp_path, made):
    made("MIX_1.WAV")
    assert refused(tmp_path / "mix 1.wav").remedy == "did you mean MIX_1.WAV?"


def test_a_missing_file_with_nothing_like_it(tmp_path):
    assert refused(tmp_path / "a.wav").remedy == f"check the name; nothing in {tmp_path} resembles it"


def test_a_missing_folder(tmp_path):
    told = refused(tmp_path / "mixes" / "a.wav")
    assert told.what.endswith(f"there is no folder {tmp_path / 'mixes'}")
    assert told.remedy == "check the path"


def test_a_name_whose_accents_are_stored_in_another_form(tmp_path, made):
    made(unicodedata.normalize("NFD", "Grüße.wav"))
    assert "accents" in refused(tmp_path / unicodedata.normalize("NFC", "Grüße.wav")).remedy


def test_a_folder(tmp_path):
    told = refused(tmp_path)
    assert told.what.endswith("this is a folder, not a sound file")
    assert told.remedy == "name a file inside it"


def test_a_device():
    assert "this is a device" in refused(Path(os.devnull)).what


@pytest.mark.parametrize("error, what, remedy", [
    (PermissionError(13, "Permission denied"), "no permission to read it", "allow yourself to read it"),
    (OSError(5, "Input/output error"), "it cannot be read (Input/output error)", "check the disk"),
], ids=["permission", "disk"])  # fmt: skip
def test_a_file_that_the_system_keeps_back(made, monkeypatch, error, what, remedy):
    """Raised in our place: whoever runs the tests may be allowed to read everything."""
    path = made()

    def refuse(*_, **__):
        raise error

    monkeypatch.setattr(Path, "open", refuse)
    told = refused(path)
    assert what in told.what
    assert remedy in told.remedy


def test_a_name_that_the_system_does_not_take(tmp_path):
    assert "cannot be read" in refused(tmp_path / ("x" * 300)).what


def test_an_empty_file(tmp_path):
    (tmp_path / "a.wav").write_bytes(b"")
    assert refused(tmp_path / "a.wav").what.endswith("the file is empty (0 bytes)")


@pytest.mark.parametrize(
    "content",
    [b"title: Lantern Bay\nmixes: [a.wav]\n", "Grüße, \u201ezwei\u201c\n".encode() * 2000, "Text".encode("utf-16")],
    ids=["ascii", "utf-8", "utf-16"],
)
def test_a_text_file(tmp_path, content):
    (tmp_path / "a.wav").write_bytes(content)
    told = refused(tmp_path / "a.wav")
    assert told.what.endswith("this is a text file, not a sound file")
    assert "bounce it as WAV" in told.remedy


def test_a_file_of_another_kind_says_what_can_be_read(tmp_path):
    (tmp_path / "a.wav").write_bytes(bytes(range(1, 256)) * 10)
    told = refused(tmp_path / "a.wav")
    assert told.what.endswith("this is not a sound file that can be read here")
    for kind in ("WAV", "AIFF", "FLAC", "OGG", "bounce it as WAV"):
        assert kind in told.remedy


def test_an_m4a_is_called_by_its_name(made):
    path = made()
    subprocess.run(["ffmpeg", "-v", "error", "-i", path, path.with_suffix(".m4a")], check=True)
    assert "an MP4 or M4A file (AAC or ALAC), which cannot be read here" in refused(path.with_suffix(".m4a")).what


def test_headerless_sound(made):
    path = made()
    for name in ("a.raw", "a.RAW"):
        told = refused(path.rename(path.with_name(name)))
        assert "does not say its rate" in told.what
        path = path.with_name(name)


def test_sound_guessed_from_the_name_alone_is_not_believed(tmp_path):
    (tmp_path / "a.vox").write_bytes(bytes(range(1, 256)) * 10)
    assert "not a sound file" in refused(tmp_path / "a.vox").what


def test_a_file_without_frames(made):
    told = refused(made(frames=0))
    assert told.what.endswith("there is no sound in it (0 frames)")


@pytest.mark.parametrize("name, encoding, frame_bytes", CUTTABLE)
@pytest.mark.parametrize("share", [0.999, 0.5, 0.1])
def test_a_file_cut_short_says_how_much_is_there(made, name, encoding, frame_bytes, share):
    path = made(name, encoding, frames=96000)
    content = path.read_bytes()
    head = len(content) - 96000 * frame_bytes
    kept = int(96000 * share)
    path.write_bytes(content[: head + kept * frame_bytes])
    told = refused(path)
    assert told.what.endswith(f"the file was cut short: {kept / 48000:.3f} s of 2.000 s are there")
    assert told.remedy == "bounce or copy it again, whole"


@pytest.mark.parametrize("name, encoding, frame_bytes", CUTTABLE)
def test_one_missing_byte_is_a_missing_frame(made, name, encoding, frame_bytes):
    path = made(name, encoding, frames=48000)
    path.write_bytes(path.read_bytes()[:-1])
    assert "cut short" in refused(path).what


def test_a_missing_pad_byte_is_nothing(made):
    """Chunks of odd length are followed by a zero byte that some writers forget at the end (RIFF)."""
    path = made("a.wav", "PCM_24", frames=1001, channels=1)
    content = path.read_bytes()
    assert len(content) == 44 + 3003 + 1
    path.write_bytes(content[:-1])
    assert inspect(path).frames == 1001


@pytest.mark.parametrize("name", ["a.wav", "a.aiff", "a.rf64", "a.w64", "a.caf", "a.flac", "a.ogg", "a.mp3"])
def test_a_file_cut_anywhere_in_its_header_is_refused(made, name):
    path = made(name, {"a.ogg": "VORBIS", "a.mp3": "MPEG_LAYER_III"}.get(name, "PCM_16"), frames=24000)
    content = path.read_bytes()
    for kept in [*range(0, 48, 3), 60, 80, 100, 104, 110]:
        path.write_bytes(content[:kept])
        with pytest.raises(AudioFileError, match=re.escape(str(path))):
            audio_hash(inspect(path))  # a FLAC header may be whole and nothing behind it


def test_a_header_cut_short_is_named(made):
    path = made()
    path.write_bytes(path.read_bytes()[:30])
    told = refused(path)
    assert told.what.endswith("it begins like a WAV file, but its header is cut short or damaged (30 bytes in all)")


def test_a_header_without_any_of_its_sound(made):
    path = made(frames=48000)
    path.write_bytes(path.read_bytes()[:44])
    assert refused(path).what.endswith("0.000 s of 1.000 s are there")


def test_a_caf_cut_short_is_said_in_bytes(made):
    path = made("a.caf", frames=48000)
    content = path.read_bytes()
    path.write_bytes(content[: len(content) - 92000])
    assert refused(path).what.endswith("cut short: 100000 bytes of 192000 bytes of sound are there")


@pytest.mark.parametrize("name", ["a.flac"])
def test_a_compressed_file_promises_what_its_header_says(made, name):
    path = made(name)
    path.write_bytes(path.read_bytes()[:60000])
    assert inspect(path).frames == 48000


def test_an_ogg_cut_short(made):
    path = made("a.ogg", "VORBIS", frames=480000)
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])
    assert "the end of the stream is missing" in refused(path).what


def test_an_mp3_cut_short(made):
    path = made("a.mp3", "MPEG_LAYER_III", frames=480000)
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])
    told = refused(path)
    assert "cut short" in told.what
    assert "of 10.000 s are there" in told.what


def with_data_size(path, size, riff_size=None):
    content = bytearray(path.read_bytes())
    place = content.index(b"data") + 4
    content[place : place + 4] = struct.pack("<I", size)
    if riff_size is not None:
        content[4:8] = struct.pack("<I", riff_size)
    path.write_bytes(content)


def test_a_size_left_at_all_ones_promises_nothing(made):
    path = made()
    with_data_size(path, 0xFFFFFFFF, 0xFFFFFFFF)
    assert inspect(path).frames == 48000


def test_a_wav_that_ffmpeg_streamed_is_whole(made, tmp_path):
    command = ["ffmpeg", "-v", "error", "-i", made("b.wav"), "-f", "wav", "-"]
    (tmp_path / "a.wav").write_bytes(subprocess.run(command, check=True, capture_output=True).stdout)
    assert b"data\xff\xff\xff\xff" in (tmp_path / "a.wav").read_bytes()
    assert inspect(tmp_path / "a.wav").frames == 48000


def test_a_size_left_at_0_is_a_file_that_was_never_closed(made):
    path = made()
    with_data_size(path, 0)
    told = refused(path)
    assert told.what.endswith("its header says 0 frames, yet 192000 bytes follow: whatever wrote it never closed it")
    assert "save it again as WAV" in told.remedy


def test_a_size_of_0_that_the_decoder_mends_is_whole(made):
    path = made()
    with_data_size(path, 0, 8)
    assert inspect(path).frames == 48000


def test_more_than_two_to_the_31_frames(tmp_path):
    """A sparse RF64 file: 2^31 + 5 mono frames of 8 bits take no room on the disk."""
    frames = 2**31 + 5
    head = (
        b"RF64\xff\xff\xff\xffWAVEds64" + struct.pack("<IQQQI", 28, frames + 72, frames, frames, 0)
        + b"fmt " + struct.pack("<IHHIIHH", 16, 1, 1, 48000, 48000, 1, 8) + b"data\xff\xff\xff\xff"
    )  # fmt: skip
    path = tmp_path / "a.wav"
    with path.open("wb") as handle:
        handle.write(head)
        handle.truncate(len(head) + frames + frames % 2)
    assert inspect(path).frames == frames
    with path.open("r+b") as handle:
        handle.truncate(len(head) + 480000)
    assert "10.000 s of 44739.243 s" in refused(path).what


STARTS = [
    b"", b"RIFF\x24\x00\x00\x00WAVEfmt ", b"RF64\xff\xff\xff\xffWAVEds64", b"FORM\x00\x00\x10\x00AIFFCOMM",
    b"caff\x00\x01\x00\x00desc", b"riff\x2e\x91\xcf\x11\xa5\xd6\x28\xdb\x04\xc1\x00\x00",
    b"fLaC\x00\x00\x00\x22", b"OggS\x00\x02", b"\xff\xfb\x90\x64",
    b"ID3\x04\x00\x00\x00\x00\x00\x0a", b".snd\x00\x00\x00\x18",
]  # fmt: skip
ENDINGS = ["wav", "mp3", "vox", "raw"]
DAMAGED = ["a.wav", "a.aiff", "a.rf64", "a.w64", "a.caf", "a.flac", "a.ogg", "a.mp3"]


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(start=st.sampled_from(STARTS), rest=st.binary(max_size=400), ending=st.sampled_from(ENDINGS))
def test_no_bytes_bring_anything_but_our_own_error(tmp_path_factory, start, rest, ending):
    path = tmp_path_factory.mktemp("any") / f"a.{ending}"
    path.write_bytes(start + rest)
    try:
        file = inspect(path)
    except AudioFileError as error:
        assert error.remedy
    else:
        assert isinstance(file, SoundFile)
        assert file.frames > 0


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data(), name=st.sampled_from(DAMAGED))
def test_no_damage_brings_anything_but_our_own_error(tmp_path_factory, noise, data, name):
    path = tmp_path_factory.mktemp("any") / name
    soundfile.write(path, noise(2, 3000).T, 48000)
    content = bytearray(path.read_bytes())
    for _ in range(data.draw(st.integers(1, 4))):
        content[data.draw(st.integers(0, min(200, len(content)) - 1))] = data.draw(st.integers(0, 255))
    path.write_bytes(content[: data.draw(st.integers(0, len(content)))])
    try:
        assert len(audio_hash(inspect(path))) == 64
    except AudioFileError as error:
        assert error.remedy
