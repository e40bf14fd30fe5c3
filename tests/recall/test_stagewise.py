"""The first stage that gives another sound is named, with the stretch and the channel, or that it is not known."""

from __future__ import annotations

from dataclasses import replace

from recall_sheets import LIMITER, SHEET

from sweeper.audio.null import Null
from sweeper.recall.stagewise import first_other, heard, old_sounds, stagewise, with_nulls
from sweeper.records import Gave, Returned


def gave(*marks: str, frames: int = 12 * 44100) -> tuple[Gave, ...]:
    return (Gave(frames, 5 * 44100, " ".join(marks)),)


def stage(name: str, *marks: str, **more):
    return replace(LIMITER, name=name, plugin=name.upper(), gave=gave(*marks) if marks else (), **more)


def sheet(*stages):
    return replace(SHEET, stages=stages)


A, B, C = "a" * 16, "b" * 16, "c" * 16


def test_the_same_everywhere():
    one = sheet(stage("eq", A, B, C), stage("limiter", B, B, B))
    assert [behind.same for behind in stagewise(one, one)] == [True, True]
    assert first_other(stagewise(one, one)) == (None, True)


def test_the_first_that_differs_and_where_it_begins():
    then = sheet(stage("eq", A, B, C), stage("glue", A, B, C), stage("limiter", A, B, C))
    now = sheet(stage("eq", A, B, C), stage("glue", A, C, B), stage("limiter", B, B, B))
    told = stagewise(then, now)
    assert [(b.name, b.same, b.from_s, b.to_s) for b in told] == [
        ("'eq' (EQ)", True, None, None), ("'glue' (GLUE)", False, 5.0, 10.0), ("'limiter' (LIMITER)", False, 0.0, 5.0),
    ]  # fmt: skip
    assert first_other(told) == (told[1], True)


def test_one_channel_alone_is_named():
    then, now = sheet(stage("eq", A, B)), sheet(stage("eq", A, "b" * 8 + "c" * 8))
    (told,) = stagewise(then, now)
    assert (told.channel, told.to_s) == (1, 10.0)


def test_the_last_stretch_ends_with_the_sound():
    then, now = sheet(stage("eq", A, B, C)), sheet(stage("eq", A, B, A))
    (told,) = stagewise(then, now)
    assert (told.from_s, told.to_s) == (10.0, 12.0)


def test_another_length_differs_where_the_shorter_ends():
    then = sheet(stage("eq", A, B, C))
    now = replace(then, stages=(replace(then.stages[0], gave=gave(A, B, C, B, frames=16 * 44100)),))
    (told,) = stagewise(then, now)
    assert (told.same, told.from_s) == (False, 10.0)


def test_a_sheet_without_marks_says_that_it_is_not_known():
    then, now = sheet(stage("eq"), stage("limiter", A)), sheet(stage("eq", A), stage("limiter", B))
    told = stagewise(then, now)
    assert told[0].same is None
    assert first_other(told) == (told[1], False), "the eq may be it as well"


def test_what_came_back_from_outside_is_what_it_was():
    came = (Returned("tape back.wav", "a" * 64, "b" * 64, "c" * 64, 12.0),)
    tape = stage("tape", outside="the tape machine", returned=came)
    then, now = sheet(stage("eq"), tape, stage("limiter", A)), sheet(stage("eq"), tape, stage("limiter", B))
    assert [b.same for b in stagewise(then, now)] == [True, True, False]
    assert first_other(stagewise(then, now))[1]
    another = replace(tape, returned=(replace(came[0], aligned_sha256="d" * 64),))
    assert [b.same for b in stagewise(then, sheet(stage("eq"), another, stage("limiter", B)))] == [None, None, False]


def test_bypassed_stages_are_left_out_and_buses_are_one():
    stages = (stage("off", bypass=True), stage("up", bus="lift"), stage("lift", bus="lift", is_fader=True),
              stage("dirt", bus="grit"), stage("grit", A, bus="grit", is_fader=True), stage("limiter", A))  # fmt: skip
    assert list(heard(stages)) == [("the buses 'lift' and 'grit'", 4), ("'limiter' (LIMITER)", 5)]


def test_old_sounds_are_those_of_stages_that_differ(tmp_path):
    then = sheet(stage("eq", A), stage("glue", B), stage("limiter", C))
    now = sheet(stage("eq", A), stage("glue", A), stage("limiter", A))
    kept = {A: tmp_path / "a.wav", B: tmp_path / "b.wav"}
    assert old_sounds(then, stagewise(then, now), tmp_path / "render.wav", kept) == {
        1: tmp_path / "b.wav", 2: tmp_path / "render.wav"}  # fmt: skip
    assert old_sounds(then, stagewise(then, now), None, {}) == {}


def test_null_tests_are_put_with_their_stages():
    null = Null((1, 1), -90.0, -100.0, 0, 0, 0.0, 0.0)
    told = with_nulls(stagewise(sheet(stage("eq", A), stage("b", B)), sheet(stage("eq", B), stage("b", C))), {1: null})
    assert [behind.null for behind in told] == [None, null]
    assert told[1].as_data()["null_peak_dbfs"] == -90.0
