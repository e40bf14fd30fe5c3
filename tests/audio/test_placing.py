"""Files that appear whole or not at all, and what is said when the disk refuses."""

import errno
from pathlib import Path

import pytest
from full_disk import no_file_over

from sweeper.audio import BroadcastTag, WavWriter
from sweeper.audio.placing import part_path, place, place_text, unwritable
from sweeper.errors import RunFolderError

FOLDER = Path("results") / "x"
REASONS = [
    (errno.ENOSPC, "is full", "make room"),
    (errno.EDQUOT, "used up", "make room"),
    (errno.EFBIG, "does not take a file this large", "FAT32 stops at 4 GB"),
    (errno.EROFS, "is read-only", "choose a folder that you can write to"),
    (errno.EACCES, "no permission to write", "choose a folder that you can write to"),
    (errno.EPERM, "no permission to write", "choose a folder that you can write to"),
    (errno.ENOENT, "is not there", "make it"),
    (errno.ENOTDIR, "is not a folder", "choose a folder"),
    (errno.ENAMETOOLONG, "too long", "shorter"),
    (errno.EIO, "Input/output error", "check the disk"),
]


@pytest.mark.parametrize("number, what, remedy", REASONS, ids=[errno.errorcode[each[0]] for each in REASONS])
def test_each_refusal_of_the_disk_is_said_in_words(number, what, remedy):
    import os

    told = unwritable(FOLDER / "render.wav", OSError(number, os.strerror(number)))
    assert told.what.startswith(f"{FOLDER / 'render.wav'}: ")
    assert what in told.what
    assert remedy in told.remedy


@pytest.mark.parametrize("limit_bytes", [20000, 704 + 10 * 8000 - 1], ids=["middle", "last byte"])
def test_a_disk_that_takes_no_more_leaves_nothing(tmp_path, noise, limit_bytes):
    """A real refusal while writing: the system's own limit on the size of a file. The last write is partial."""
    with (
        no_file_over(limit_bytes),
        pytest.raises(RunFolderError, match="does not take a file this large"),
        WavWriter(tmp_path / "a.wav", 2, 48000) as writer,
    ):
        for _ in range(10):
            writer.write(noise(2, 1000))
        writer.commit(BroadcastTag("", "", ""))
    assert list(tmp_path.iterdir()) == []


def test_a_text_that_does_not_fit_leaves_nothing_and_can_be_written_again(tmp_path):
    with no_file_over(20000), pytest.raises(RunFolderError, match=r"a\.svg: the disk .* does not take"):
        place_text(tmp_path / "a.svg", "half a picture\n" * 2000)
    assert list(tmp_path.iterdir()) == []
    place_text(tmp_path / "a.svg", "−1 dB\n")
    assert (tmp_path / "a.svg").read_bytes() == "−1 dB\n".encode()
    with pytest.raises(RunFolderError, match="is there already") as told:
        place_text(tmp_path / "a.svg", "other", "name another with --to")
    assert told.value.remedy == "name another with --to"
    assert [(path.name, path.read_bytes()) for path in tmp_path.iterdir()] == [("a.svg", "−1 dB\n".encode())]


def test_a_text_whose_name_is_taken_while_it_is_written_leaves_the_other(tmp_path, monkeypatch):
    link = Path.hardlink_to

    def late(self, target):
        self.write_bytes(b"precious")
        link(self, target)

    monkeypatch.setattr(Path, "hardlink_to", late)
    with pytest.raises(RunFolderError, match="nothing is ever overwritten") as told:
        place_text(tmp_path / "done", "new", "name another with --to")
    assert told.value.remedy == "name another with --to"
    assert [(path.name, path.read_bytes()) for path in tmp_path.iterdir()] == [("done", b"precious")]


def test_a_name_that_is_too_long(tmp_path):
    with (
        pytest.raises(RunFolderError, match="too long"),
        WavWriter(tmp_path / ("x" * 300 + ".wav"), 2, 48000) as writer,
    ):
        writer.commit(BroadcastTag("", "", ""))


def test_the_part_lies_hidden_beside_its_place_under_a_name_of_its_own():
    first, second = part_path(FOLDER / "a.wav"), part_path(FOLDER / "a.wav")
    assert first.parent == FOLDER
    assert first.name.startswith(".a.wav.part")
    assert first != second


def test_a_file_is_moved_to_its_place(tmp_path):
    (tmp_path / "part").write_bytes(b"new")
    place(tmp_path / "part", tmp_path / "done")
    assert (tmp_path / "done").read_bytes() == b"new"
    assert list(tmp_path.iterdir()) == [tmp_path / "done"]


@pytest.mark.parametrize("number", [errno.EPERM, errno.EOPNOTSUPP, errno.ENOSYS], ids=errno.errorcode.get)
def test_a_disk_without_second_names_is_written_too(tmp_path, monkeypatch, number):
    def refuse(self, target):
        raise OSError(number, "no links here")

    monkeypatch.setattr(Path, "hardlink_to", refuse)
    (tmp_path / "part").write_bytes(b"new")
    place(tmp_path / "part", tmp_path / "done")
    assert (tmp_path / "done").read_bytes() == b"new"
    assert list(tmp_path.iterdir()) == [tmp_path / "done"]


def test_a_name_taken_between_the_look_and_the_placing_is_refused(tmp_path, monkeypatch):
    """The other writer comes first at the last possible moment."""
    link = Path.hardlink_to

    def late(self, target):
        self.write_bytes(b"precious")
        link(self, target)

    monkeypatch.setattr(Path, "hardlink_to", late)
    (tmp_path / "part").write_bytes(b"new")
    with pytest.raises(RunFolderError, match="nothing is ever overwritten"):
        place(tmp_path / "part", tmp_path / "done")
    assert (tmp_path / "done").read_bytes() == b"precious"


def test_a_dangling_link_has_the_name_too(tmp_path):
    (tmp_path / "done").symlink_to(tmp_path / "nowhere")
    (tmp_path / "part").write_bytes(b"new")
    with pytest.raises(RunFolderError, match="nothing is ever overwritten"):
        place(tmp_path / "part", tmp_path / "done")
