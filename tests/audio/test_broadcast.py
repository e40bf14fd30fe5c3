"""The broadcast tag. Source: EBU Tech 3285 version 2 (offsets of the bext chunk; section 2.4 for the rounding)."""

import math
import struct

import numpy as np
import pytest

from sweeper.audio import BroadcastTag, WavWriter, moved, pack, read_tag, unpack
from sweeper.errors import AudioFileError

TAG = BroadcastTag("8f3c19d2", "2026-11-24", "18:05:09", -10.02, 5.5, -1.0, -7.25, -8.5)
LOUDNESS = {"loudness_lufs": 412, "range_lu": 414, "true_peak_dbtp": 416, "momentary_max_lufs": 418}
LOUDNESS["short_term_max_lufs"] = 420
UNUSED = b"\xff\x7f"

#: level, the two bytes as the standard prints them (most significant first)
EXAMPLES = [
    (-22.644, "F728"), (-22.645, "F727"), (-22.646, "F727"),
    (12.764, "04FC"), (12.765, "04FD"), (12.766, "04FD"),
]  # fmt: skip


@pytest.mark.parametrize("level, printed", EXAMPLES)
def test_rounds_as_the_examples_of_ebu_tech_3285_section_2_4(level, printed):
    content = pack(BroadcastTag("", "", "", loudness_lufs=level))
    assert content[412:414] == bytes.fromhex(printed)[::-1]


@pytest.mark.parametrize("field, offset", LOUDNESS.items())
def test_each_loudness_field_stands_at_its_offset(field, offset):
    content = pack(BroadcastTag("", "", "", **{field: 12.34}))
    assert struct.unpack_from("<h", content, offset) == (1234,)
    others = b"".join(content[at : at + 2] for at in LOUDNESS.values() if at != offset)
    assert others == UNUSED * 4


def test_the_text_fields_stand_at_their_offsets():
    content = pack(TAG)
    assert len(content) == 602
    assert content[:256] == bytes(256)
    assert content[256:288] == b"sweeper".ljust(32, b"\0")
    assert content[288:320] == b"8f3c19d2".ljust(32, b"\0")
    assert content[320:330] == b"2026-11-24"
    assert content[330:338] == b"18:05:09"
    assert content[338:346] == bytes(8)
    assert content[346:348] == b"\x02\x00"
    assert content[348:412] == bytes(64)
    assert content[422:602] == bytes(180)


def test_a_tie_is_decided_by_the_decimal_reading():
    """100 * 1.005 is 100.49999999999999 in binary; the standard's reading of 1.005 is a tie: 1.01."""
    assert struct.unpack_from("<h", pack(BroadcastTag("", "", "", loudness_lufs=1.005)), 412) == (101,)


@pytest.mark.parametrize("level", [None, -math.inf, math.inf, math.nan, -99.995, 99.995, -120.0, 400.0])
def test_no_value_and_values_out_of_range_are_written_as_unused(level):
    assert pack(BroadcastTag("", "", "", loudness_lufs=level))[412:414] == UNUSED


@pytest.mark.parametrize("level, hundredths", [(-99.99, -9999), (99.99, 9999), (-99.994, -9999), (0.0, 0)])
def test_the_ends_of_the_range_are_values(level, hundredths):
    assert struct.unpack_from("<h", pack(BroadcastTag("", "", "", loudness_lufs=level)), 412) == (hundredths,)


def test_a_negative_range_is_unused():
    assert pack(BroadcastTag("", "", "", range_lu=-0.01))[414:416] == UNUSED


def test_numpy_levels_are_packed_like_plain_ones():
    assert pack(BroadcastTag("", "", "", np.float64(-22.645))) == pack(BroadcastTag("", "", "", -22.645))


def test_what_was_packed_is_unpacked():
    assert unpack(pack(TAG)) == TAG
    bare = BroadcastTag("a" * 32, "2026-01-02", "03:04:05")
    assert unpack(pack(bare)) == bare


def test_before_version_2_there_are_no_loudness_fields():
    content = bytearray(pack(TAG))
    content[346:348] = b"\x01\x00"
    assert unpack(bytes(content)) == BroadcastTag(TAG.reference, TAG.date, TAG.time)


def test_a_coding_history_behind_the_fields_is_passed_over():
    assert unpack(pack(TAG) + b"A=PCM,F=48000\r\n") == TAG


def test_a_short_chunk_is_refused():
    with pytest.raises(ValueError, match="602 bytes, this one 601"):
        unpack(pack(TAG)[:-1])


@pytest.mark.parametrize(
    "tag",
    [BroadcastTag("x" * 33, "", ""), BroadcastTag("ü", "", ""), BroadcastTag("", "2026-11-240", ""),
     BroadcastTag("a\0b", "", "")],
    ids=["long", "not ascii", "long date", "zero byte"],
)  # fmt: skip
def test_text_that_does_not_fit_is_refused(tag):
    with pytest.raises(ValueError, match=r"does not fit|ascii"):
        pack(tag)


def test_a_gain_moves_the_levels_and_not_the_range():
    louder = moved(TAG, 2.0)
    assert louder == BroadcastTag("8f3c19d2", "2026-11-24", "18:05:09", -8.02, 5.5, 1.0, -5.25, -6.5)
    assert moved(BroadcastTag("a", "", ""), 2.0) == BroadcastTag("a", "", "")


def test_ffprobe_reads_the_tag(tmp_path, noise, ffprobe):
    path = tmp_path / "tagged.wav"
    with WavWriter(path, 2, 48000) as writer:
        writer.write(noise(2, 100))
        writer.commit(TAG)
    tags = ffprobe(path)["format"]["tags"]
    assert tags["encoded_by"] == "sweeper"
    assert tags["originator_reference"] == "8f3c19d2"
    assert tags["date"] == "2026-11-24"
    assert tags["creation_time"] == "18:05:09"
    assert tags["time_reference"] == "0"
    assert "description" not in tags and "comment" not in tags
    assert read_tag(path) == TAG


def test_a_tag_written_by_ffmpeg_is_read(tmp_path, noise):
    import subprocess

    import soundfile

    plain, tagged = tmp_path / "plain.wav", tmp_path / "tagged.wav"
    soundfile.write(plain, noise(2, 4800).T, 48000, subtype="PCM_24")
    words = ["originator_reference=ref-12", "origination_date=2026-03-04", "origination_time=05:06:07"]
    metadata = [part for word in words for part in ("-metadata", word)]
    command = ["ffmpeg", "-v", "error", "-i", plain, "-c:a", "copy", "-write_bext", "1", *metadata, tagged]
    subprocess.run(command, check=True)
    tag = read_tag(tagged)
    assert tag is not None
    assert (tag.reference, tag.date, tag.time) == ("ref-12", "2026-03-04", "05:06:07")
    assert tag.loudness_lufs is None


def test_a_file_without_a_tag_has_none(tmp_path, noise):
    import soundfile

    for name in ("plain.wav", "plain.flac"):
        soundfile.write(tmp_path / name, noise(2, 100).T, 48000)
        assert read_tag(tmp_path / name) is None


def test_a_tag_cut_short_is_none(tmp_path):
    path = tmp_path / "short.wav"
    path.write_bytes(b"RIFF\x00\x00\x00\x00WAVEbext" + struct.pack("<I", 602) + pack(TAG)[:300])
    assert read_tag(path) is None


def test_a_missing_file_is_said(tmp_path):
    with pytest.raises(AudioFileError, match="there is no such file"):
        read_tag(tmp_path / "absent.wav")
