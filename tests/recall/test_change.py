"""What a client asks for is understood, and which setting it is solved by."""

from __future__ import annotations

from dataclasses import replace

import pytest
from recall_sheets import LIMITER, SHEET

from sweeper.errors import SheetError
from sweeper.plan.reach_terms import Direction
from sweeper.quantities import Measurements
from sweeper.recall.change import order_for, passed_goals, read_change, turned_by
from sweeper.records import HandleRecord, Returned

DRIVE, CEILING = HandleRecord("drive", "lower", "Threshold"), HandleRecord("ceiling", "", "Output Ceiling")
WITH_HANDLES = replace(LIMITER, handles=(DRIVE, CEILING))
TUBE = replace(LIMITER, name="tube", plugin="Tube", output=False,
               handles=(HandleRecord("drive", "raise", "input trim"),))  # fmt: skip
NOW = Measurements({"loudness_lufs": -10.02, "true_peak_dbtp": -1.05, "crest_db": 9.5, "mono_loss_lu": 1.0})


@pytest.mark.parametrize(
    ("text", "key", "goal"),
    [("loudness -0.5 LU", "loudness_lufs", -10.52), ("loudness −0,5 LU", "loudness_lufs", -10.52),
     ("Loudness +1 dB", "loudness_lufs", -9.02), ("crest 9 dB", "crest_db", 9.0),
     ("loudness -11 LUFS", "loudness_lufs", -11.0), ("mono loss 0.5 LU", "mono_loss_lu", 0.5),
     ("true peak -2 dBTP", "true_peak_dbtp", -2.0), ("true peak -0.5 dB", "true_peak_dbtp", -1.55),
     ("crest +0.5 dB", "crest_db", 10.0)],
)  # fmt: skip
def test_what_it_leads_to(text, key, goal):
    change = read_change(text)
    order = order_for(change, turned_by("drive", change, replace(SHEET, stages=(WITH_HANDLES,))), NOW)
    (target,) = order.goals
    assert (target.key, target.goal) == (key, pytest.approx(goal))
    assert target.within < 0.05


@pytest.mark.parametrize(
    ("text", "words", "remedy"),
    [("louder", "there is no 'louder'", "loudness -0.5 LU"),
     ("loudnes -1 LU", "no 'loudnes'", "did you mean 'loudness'"),
     ("loudness", "does not say by how much", "loudness -0.5 LU"),
     ("loudness -1 ms", "does not change by ms", "LU or LUFS"),
     ("loudness 1 LU", "does not say which way", "+1 LU or -1 LU"),
     ("overs -1", "there is no 'overs'", "")],
)  # fmt: skip
def test_what_is_not_understood_is_told_with_what_to_write(text, words, remedy):
    with pytest.raises(SheetError) as caught:
        read_change(text)
    assert words in caught.value.what
    assert remedy in caught.value.remedy


def turned(by, *stages, text="loudness -0.5 LU", reach=()):
    found = turned_by(by, read_change(text), replace(SHEET, stages=stages, reach=reach))
    return found.stage, found.setting, found.side, found.direction


def test_a_handle_is_that_of_the_last_stage_or_of_the_one_that_was_solved():
    assert turned("drive", TUBE, WITH_HANDLES) == (1, "Threshold", "", Direction.LOWER)
    solved = ({"measurement": "loudness_lufs", "setting": "tube.input trim", "at": 1.0, "goal": -10.0},)
    assert turned("drive", TUBE, WITH_HANDLES, reach=solved) == (0, "input trim", "", Direction.RAISE)
    assert turned("ceiling", TUBE, WITH_HANDLES) == (1, "Output Ceiling", "", Direction.RAISE)
    assert turned("tube.drive", TUBE, WITH_HANDLES)[0] == 0


def test_a_setting_goes_by_its_name_and_side():
    assert turned("limiter.release", TUBE, LIMITER) == (1, "Release", "", Direction.UNKNOWN)
    assert turned("limiter.Output Trim", LIMITER) == (0, "output trim", "", Direction.RAISE)
    sided = replace(LIMITER, channels="mid/side", settings=tuple(replace(s, side="mid") for s in LIMITER.settings))
    assert turned("limiter.mid.threshold", sided) == (0, "Threshold", "mid", Direction.UNKNOWN)


def test_a_sheet_without_handles_goes_by_what_was_solved():
    reach = ({"measurement": "loudness_lufs", "setting": "limiter.Threshold", "at": -7.1, "goal": -10.0},
             {"measurement": "true_peak_dbtp", "setting": "limiter.Output Ceiling", "at": -1.0, "goal": -1.0})
    assert turned("drive", LIMITER, reach=reach)[:2] == (0, "Threshold")
    assert turned("ceiling", LIMITER, reach=reach)[:2] == (0, "Output Ceiling")


@pytest.mark.parametrize(
    ("by", "stages", "words"),
    [("drive", (LIMITER,), "no stage that is heard has a 'drive'"), ("glou.x", (LIMITER,), "no stage is called 'glou'"),
     ("limiter.Threshhold", (LIMITER,), "has no 'Threshhold'"),
     ("limiter.Threshold", (replace(LIMITER, bypass=True),), "is bypassed"),
     ("eq.Threshold", (replace(LIMITER, name="eq"), replace(LIMITER, outside="tape", returned=(
         Returned("a", "b", "c", "d", 0.0),))), "stands outside, or before")],
)  # fmt: skip
def test_what_cannot_be_turned_is_told(by, stages, words):
    with pytest.raises(SheetError) as caught:
        turned(by, *stages)
    assert words in caught.value.what
    assert caught.value.remedy


def test_a_goal_that_cannot_be_meant_and_a_measurement_that_is_not_there():
    sheet = replace(SHEET, stages=(WITH_HANDLES,))
    for text, words in (("loudness -90 LU", "leads to loudness -100.02 LUFS"),
                        ("loudness range +1 LU", "has no loudness range")):  # fmt: skip
        change = read_change(text)
        with pytest.raises(SheetError, match=words):
            order_for(change, turned_by("drive", change, sheet), NOW)


def test_a_ceiling_that_is_passed_now_is_told():
    reach = ({"measurement": "true_peak_dbtp", "goal": -1.0}, {"measurement": "loudness_lufs", "goal": -10.0})
    louder = Measurements({"true_peak_dbtp": -0.8, "loudness_lufs": -9.0})
    (words,) = passed_goals(reach, ["loudness_lufs"], NOW, louder)
    assert words == "true peak was to stay at or under -1 dBTP and is -0.80 now"
    assert passed_goals(reach, ["loudness_lufs"], NOW, NOW) == []
    assert passed_goals(reach, ["true_peak_dbtp"], NOW, louder) == []
    assert passed_goals(reach, ["loudness_lufs"], louder, louder) == [], "it was not kept before either"
