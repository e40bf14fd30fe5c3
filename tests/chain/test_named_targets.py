"""Delivery targets in a chain file. The numbers are held in tests/targets/test_documents.py."""

from __future__ import annotations

import pytest

from sweeper.chain.one_condition import read_condition_texts, read_target_text
from sweeper.errors import ChainFileError

STAGES = "mix: a.wav\noutput:\n  - {name: limiter, plugin: Brick, drive: raise Input, ceiling: Ceiling}\n"
R128 = [("loudness_lufs", ">=", -23.2), ("loudness_lufs", "<=", -22.8), ("true_peak_dbtp", "<=", -1.0)]


def bounds(conditions):
    return [(one.key, one.relation, one.value) for one in conditions]


def test_meets_stands_for_every_bound_of_a_target(load):
    limits = load(STAGES + "limits: [meets ebu-r128, crest >= 8 dB]\n").limits
    assert bounds(limits) == [*R128, ("crest_db", ">=", 8)]
    assert [one.text for one in limits] == ["loudness >= -23.2 LUFS (ebu-r128)", "loudness <= -22.8 LUFS (ebu-r128)",
                                            "true peak <= -1 dBTP (ebu-r128)", "crest >= 8 dB"]  # fmt: skip
    assert {(one.mark.line, one.mark.column) for one in limits[:3]} == {(4, 10)}


def test_the_loudest_three_seconds_of_a_short_form_are_bound_as_well(load):
    limits = load(STAGES + "limits: Meets EBU-R128-Short-Form\n").limits
    assert bounds(limits) == [*R128, ("short_term_max_lufs", "<=", -18.0)]


@pytest.mark.parametrize("id", ["ebu-r128", "ebu-r128-live", "ebu-r128-short-form", "ebu-r128-streaming", "atsc-a85"])
def test_what_stands_in_a_table_can_be_read_back(id):
    expanded = read_condition_texts([f"meets {id}"], "--limit")
    assert read_condition_texts([one.text for one in expanded], "run.json") == expanded


@pytest.mark.parametrize(
    "bound", ["loudness >= -14 LUFS (ebu-r128)", "crest >= 8 dB (ebu-r128)", "true peak >= -1 dBTP (ebu-r128)"]
)
def test_a_bound_that_a_target_does_not_ask_for_is_not_its_own(bound):
    with pytest.raises(ChainFileError, match="is not what 'ebu-r128' asks for"):
        read_condition_texts([bound], "--limit")


def test_a_run_keeps_the_bounds_that_a_target_had_then():
    (kept,) = read_condition_texts(["loudness >= -14 LUFS (ebu-r128)"], "run.json", kept=True)
    assert (kept.value, kept.target) == (-14, "ebu-r128")


def test_ones_own_bounds_and_other_targets_may_stand_beside_it(load):
    found = load(STAGES + "limits: [meets ebu-r128, meets atsc-a85, true peak <= -3 dBTP]\n").limits
    assert [one.value for one in found if one.key == "true_peak_dbtp"] == [-1, -2, -3]
    assert len(load(STAGES + "limits: meets ebu-r128\nreach: [{true peak: at most -1 dBTP}]\n").limits) == 4


def test_the_same_target_twice_is_told(problems):
    found = problems(STAGES + "limits: [meets ebu-r128, meets ebu-r128]\n")
    assert len(found) == 3
    assert found[0].what == "'loudness >= -23.2 LUFS (ebu-r128)' bounds what line 4 bounds already"


@pytest.mark.parametrize(
    ("lines", "what", "remedy"),
    [
        ("limits: [meets ebu-r182]", "no delivery target is called 'ebu-r182'", "did you mean 'ebu-r128'?"),
        ("limits: [meets podium]", "no delivery target is called 'podium'", "known here: ebu-r128, "),
        ("limits: [meets aes-td1008-music-track]", "is what players turn files to (AES TD1008, playback normalis",
         "`sweeper measure FILE --playback`"),
        ("reach: [{loudness: aes-td1008-music-album, by: limiter.drive}]", "no master has to be delivered at it",
         "--playback"),
        ("reach: [{loudness: atsc-85, by: limiter.drive}]", "called 'atsc-85'", "did you mean 'atsc-a85'?"),
        ("reach: [{loudness: loud, by: limiter.drive}]", "loudness is 'loud', not a number", "write a number in LUFS"),
        ("reach: [{crest: ebu-r128, by: limiter.drive}]", "crest is 'ebu-r128', not a number", "write a number in dB"),
        ("reach: [{loudness: -9, by: limiter.drive, stop at: [meets ebu-r128]}]",
         "'meets ebu-r128' has no use in 'stop at'", "put it under 'limits'"),
        ("limits: [true peak <= -1 dBTP (mine)]", "'-1 dBTP (mine)' is in dBTP (mine)", "write a number"),
    ],
)  # fmt: skip
def test_what_is_no_delivery_target_is_told_in_its_place(problems, lines, what, remedy):
    (problem,) = problems(STAGES + lines + "\n")
    assert problem.line == 4
    assert what in problem.what
    assert remedy in problem.remedy


@pytest.mark.parametrize(
    ("entry", "goal", "within"),
    [("loudness: ebu-r128", -23, 0.2), ("loudness: EBU-R128-live", -23, 1), ("loudness: atsc-a85", -24, 2),
     ("loudness: atsc-a85, within: 0.1 LU", -24, 0.1), ("loudness: -23 LUFS", -23, 0.1)],
)  # fmt: skip
def test_a_target_is_a_goal_with_its_tolerance(load, entry, goal, within):
    (reach,) = load(STAGES + f"reach: [{{{entry}, by: limiter.drive}}]\n").reach
    assert (reach.goal, reach.within, reach.at_most) == (goal, within, False)


def test_a_target_is_found_by_name_alone():
    assert read_target_text("EBU-R128", "--against").id == "ebu-r128"
    with pytest.raises(ChainFileError, match="--against: no delivery target"):
        read_target_text("x", "--against")
