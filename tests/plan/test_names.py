"""Handles: what they turn, which way drives harder, and what a step from where one is dialled means."""

from __future__ import annotations

import pytest

from sweeper.chain.model import Channels, FromDialled, Handle, Mark, Number, SettingRef, Stage, Travel
from sweeper.plan.names import direction_of, setting_of, value_of
from sweeper.plan.reach_terms import Direction

MARK = Mark(1, 1)


def stage(*handles: Handle) -> Stage:
    return Stage("colour", "P", None, Channels.STEREO, (), handles, 0.0, 0.0, False, False, MARK, MARK)


def ref(setting: str) -> SettingRef:
    return SettingRef("colour", setting, "")


UP = FromDialled(Number(2.0, "dB", "2 dB"), "dialled +2 dB")
ON = FromDialled(Travel(0.05, "5 % travel"), "dialled +5 % travel")


def test_a_handle_means_its_control_and_everything_else_itself():
    driven = stage(Handle("drive", "lower", "Threshold", MARK))
    assert setting_of(driven, ref("drive")) == "Threshold"
    assert setting_of(driven, ref("Ratio")) == "Ratio"


@pytest.mark.parametrize(("way", "expected"), [("raise", Direction.RAISE), ("lower", Direction.LOWER)])
def test_a_drive_says_its_way(way, expected):
    assert direction_of(stage(Handle("drive", way, "Input", MARK)), ref("drive")) is expected


def test_a_trim_drives_harder_when_raised_and_a_plain_setting_does_not_say():
    assert direction_of(stage(), ref("input trim")) is Direction.RAISE
    assert direction_of(stage(), ref("Input")) is Direction.UNKNOWN


def test_a_step_on_a_drive_is_a_step_to_more_of_it_whichever_way_the_control_goes():
    raised, lowered = (stage(Handle("drive", way, "Control", MARK)) for way in ("raise", "lower"))
    assert value_of(raised, ref("drive"), UP) == UP
    assert value_of(lowered, ref("drive"), UP).offset.value == -2.0
    assert value_of(lowered, ref("drive"), ON).offset.fraction == -0.05
    assert value_of(lowered, ref("drive"), UP).text == "dialled +2 dB"


def test_a_plain_setting_and_an_absolute_value_are_taken_as_written():
    lowered = stage(Handle("drive", "lower", "Control", MARK))
    assert value_of(lowered, ref("Control"), UP) == UP
    assert value_of(lowered, ref("drive"), Number(-3.0, "dB", "-3 dB")) == Number(-3.0, "dB", "-3 dB")
