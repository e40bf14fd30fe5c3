from __future__ import annotations

import pytest
from fake_control import FakeControl, linear, listed

from sweeper.errors import SettingError
from sweeper.host.settings import control_named, put_and_read

GAIN = FakeControl("Output Gain", linear(-60, 24), "dB")
CONTROLS = [
    FakeControl("Buffer Size", linear(0, 1), settable=False),
    GAIN,
    FakeControl("Band (1)", linear(0, 1)),
    FakeControl("Band (2)", linear(0, 1)),
    FakeControl("Gain Reduction", linear(0, 40), settable=False),
]


def nothing() -> None:
    """No plugin to run."""


@pytest.mark.parametrize("written", ["Output Gain", "output gain", "outputgain", "OUTPUT  GAIN"])
def test_case_and_spaces_are_forgiven(written):
    assert control_named(CONTROLS, written) is GAIN


@pytest.mark.parametrize(
    ("written", "what", "remedy"),
    [
        ("Outptu Gain", "no setting is called 'Outptu Gain'", "did you mean 'Output Gain'?"),
        ("Buffer Size", "no setting is called 'Buffer Size'", ""),
        ("Band", "several settings are called 'Band'", "write 'Band (1)' or 'Band (2)'"),
        ("zzz", "no setting is called 'zzz'", "it has: Output Gain, Band (1), Band (2)"),
    ],
)
def test_a_wrong_name_is_answered_with_the_right_ones(written, what, remedy):
    with pytest.raises(SettingError) as refused:
        control_named(CONTROLS, written)
    assert refused.value.what == what
    assert remedy in refused.value.remedy


def test_a_name_that_two_settings_have_but_for_case_is_not_guessed():
    twins = [FakeControl("Gain", linear(0, 1)), FakeControl("GAIN", linear(0, 1))]
    assert control_named(twins, "GAIN") is twins[1]
    with pytest.raises(SettingError, match="did you mean"):
        control_named(twins, "gain")


def test_what_is_read_back_is_what_is_recorded():
    control = FakeControl("Gain", linear(0, 10, 1), "dB", sticks=lambda raw: round(raw, 7))
    (applied,) = put_and_read([(control, 0.123456789, "1.23 dB")], "left", nothing)
    assert (applied.raw, applied.text, applied.side, applied.asked) == (0.1234568, "1.2", "left", "1.23 dB")


def test_a_setting_that_does_not_stick_is_an_error_that_says_what_stands():
    control = FakeControl("Mode", listed("Clean", "Warm"), steps=2, sticks=lambda raw: 0.0)
    with pytest.raises(SettingError, match="'Mode' did not stick: set to Warm, the plugin then showed Clean"):
        put_and_read([(control, 1.0, "Warm")], "", nothing)


def test_a_setting_that_glides_is_waited_for():
    control = FakeControl("Gain", linear(0, 10), sticks=lambda raw: 0.0)
    left = [5]

    def silence() -> None:
        left[0] -= 1
        if left[0] == 0:
            control.at = 0.7

    (applied,) = put_and_read([(control, 0.7, "7")], "", silence)
    assert applied.raw == 0.7
