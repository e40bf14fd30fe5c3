"""Album files: what is read, and every fault at its place."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweeper.chain.album_model import GAP_S
from sweeper.chain.albums import load_album
from sweeper.chain.alternates import alternates_in
from sweeper.chain.print_model import Edits
from sweeper.errors import ChainFileError

WHOLE = """\
title: Harbour Lights
artist: The Tin Lanterns
to: [mp3, disc]
name: "{track} {artist} {title}"
gap: 1.5 s
gaps in files: on
tracks:
  - {run: one, variant: 004, title: Slack Water, isrc: xx-xxx-26-00001}
  - {run: two, gap: 0 s, level: -0.7 dB, artist: The Pilots, start: "0:00.5", fade out: 3 s}
  - {run: three, mix: "2"}
"""


@pytest.fixture
def read(tmp_path):
    for name in ("one", "two", "three"):
        (tmp_path / name).mkdir()

    def reading(text: str):
        path = tmp_path / "lights.album.yaml"
        path.write_text(text)
        return load_album(path)

    return reading


def test_a_whole_album_is_read(read, tmp_path):
    album = read(WHOLE)
    assert (album.title, album.artist) == ("Harbour Lights", "The Tin Lanterns")
    assert album.pattern == "{track} {artist} {title}"
    assert [spec.name for spec in album.to] == ["mp3", "disc"]
    assert (album.gap_s, album.gaps_in_files) == (1.5, True)
    first, second, third = album.tracks
    assert (first.run, first.variant, first.title) == (tmp_path / "one", "004", "Slack Water")
    assert first.isrc == "XXXXX2600001"
    assert (second.variant, second.level_db, second.artist) == ("", -0.7, "The Pilots")
    assert second.edits == Edits(0.5, None, 0.0, 3.0)
    assert first.edits is None
    assert third.mix == "2"
    assert [album.gap_after_s(n) for n in range(3)] == [1.5, 0.0, 0.0]


def test_what_is_left_out_is_usual(read):
    album = read("title: x\ntracks: [{run: one}, {run: two}]\n")
    assert ([spec.name for spec in album.to], album.gap_s, album.gaps_in_files, album.pattern) == (
        ["24-bit"], GAP_S, False, None)  # fmt: skip
    assert [album.gap_after_s(n) for n in range(2)] == [GAP_S, 0.0]


#: What stands in place of the whole text; the line; what is said; what to do.
FAULTS = [
    ("tracks: [{run: one}]\n", 1, "the album has no title", "add title"),
    ("title: x\n", 1, "the album has no tracks", "add tracks"),
    ("title: x\ntracks: []\n", 2, "the album has no tracks", "- run: FOLDER"),
    ("title: x\ntrakcs: [{run: one}]\n", 2, "unknown key 'trakcs' in an album file", "did you mean 'tracks'?"),
    ("title: x\ntracks:\n  - {run: one, titel: y}\n", 3, "unknown key 'titel' in a track", "did you mean 'title'?"),
    ("title: x\ntracks:\n  - {title: y}\n", 3, "this track names no run", "add run: FOLDER"),
    ("title: x\ntracks:\n  - {run: none}\n", 3, "there is no folder 'none'", "paths start from"),
    ("title: x\ntracks:\n  - one\n", 3, "a track is", "NAME: VALUE"),
    ("title: x\nto: [mp3]\ntracks: [{run: one}]\n", 2, "nothing here is without loss", "add 24-bit"),
    ("title: x\ngap: 2\ntracks: [{run: one}]\n", 2, "gap is '2', no length of time", "write 0 s to 60 s"),
    ("title: x\ngap: 2 min\ntracks: [{run: one}]\n", 2, "gap is '2 min'", "write 0 s to 60 s"),
    ("title: x\ntracks:\n  - {run: one}\n  - {run: two, gap: 1 s}\n", 4, "nothing follows the last track",
     "take 'gap' out"),
    ("title: x\ntracks:\n  - {run: one, level: 30 dB}\n", 3, "level is 30 dB", "write 24 dB at most"),
    ("title: x\ntracks:\n  - {run: one, level: loud}\n", 3, "level", "dB"),
    ("title: x\ntracks:\n  - {run: one, mix: 1, variant: 2}\n", 3, "a variant is of one mix already", "take 'mix' out"),
    ("title: x\ntracks:\n  - {run: one, isrc: XXXXX2600001}\n  - {run: two, isrc: XX-XXX-26-00001}\n", 4,
     "this track has the ISRC of the one on line 3", "its own"),
    ("title: x\ntracks:\n  - {run: one, variant: 004}\n  - {run: one, variant: 4}\n", 4,
     "this is the track on line 3 again", "name another variant"),
    ("title: x\ntracks:\n" + "  - {run: one}\n" * 100, 2, "the album has 100 tracks", "99 are the most"),
    ("- one\n", 1, "the album file is a list, not a mapping", "sweeper album --write"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "line", "what", "remedy"), FAULTS)
def test_every_fault_has_its_place_and_a_remedy(read, text, line, what, remedy):
    with pytest.raises(ChainFileError) as raised:
        read(text)
    found = [problem for problem in raised.value.problems if what in problem.what]
    assert found, str(raised.value)
    assert found[0].line == line
    assert remedy in found[0].remedy
    assert "chain file" not in str(raised.value)


def test_all_faults_are_told_at_once(read):
    with pytest.raises(ChainFileError) as raised:
        read("titel: x\ngap: 2\ntracks: [{run: none, level: much}]\n")
    assert len(raised.value.problems) >= 4


def test_a_file_that_is_not_there_is_no_chain_file(tmp_path):
    with pytest.raises(ChainFileError, match="there is no such file"):
        load_album(Path(tmp_path / "none.yaml"))


def test_alternates_are_told_from_the_text_alone():
    text = "mixes:\n  - a.wav\n  - {file: b.wav, settings from: a.wav}\n  - {file: c.wav}\noutput: []\n"
    assert alternates_in(text, "run.json") == {"b.wav"}
    assert alternates_in("mix: {file: a.wav}\n", "run.json") == frozenset()
