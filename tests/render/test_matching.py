"""Listening copies: every one that can be written is, and what cannot is said."""

from __future__ import annotations

import numpy as np
import pytest
from whole_runs import mix, outside_lufs, samples

from sweeper.audio import BroadcastTag
from sweeper.audio.broadcast import read_tag
from sweeper.render.matching import Copy, write_copies


@pytest.fixture
def music(tmp_path):
    for name in ("001", "002"):
        (tmp_path / name).mkdir()
    return mix(tmp_path / "a.wav", 0.6), mix(tmp_path / "b.wav", 0.6, seed=2)


def test_copies_stand_at_one_loudness(pool, tmp_path, music):
    targets = [tmp_path / name / "matched.wav" for name in ("001", "002")]
    gains = [-23 - outside_lufs(file) for file in music]
    assert write_copies([Copy(*each) for each in zip(music, targets, gains, strict=True)], pool) == ()
    assert [outside_lufs(target) for target in targets] == pytest.approx([-23, -23], abs=0.01)


def test_a_tag_goes_into_a_copy_of_a_file_that_has_none(pool, tmp_path, music):
    target = tmp_path / "001" / "matched.wav"
    assert write_copies([Copy(music[0], target, 0.0, BroadcastTag("an id", "2026-11-24", "18:05:09"))], pool) == ()
    assert read_tag(target).reference == "an id"
    assert np.array_equal(samples(target), samples(music[0]))


def test_one_that_cannot_be_written_is_said_with_its_place_and_the_others_are_there(pool, tmp_path, music):
    taken, gone, free = tmp_path / "001" / "matched.wav", tmp_path / "003" / "x.wav", tmp_path / "002" / "matched.wav"
    taken.write_text("mine")
    said = write_copies([Copy(music[0], taken, 0.0), Copy(music[0], gone, 0.0), Copy(music[1], free, 0.0)], pool)
    assert [text.split(" could not be written: ")[0] for text in said] == ["001/matched.wav", "003/x.wav"]
    assert "nothing is ever overwritten" in said[0]
    assert taken.read_text() == "mine"
    assert np.array_equal(samples(free), samples(music[1]))


def test_nothing_to_copy_is_no_trouble(pool):
    assert write_copies([], pool) == ()
