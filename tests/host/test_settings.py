from __future__ import annotations

import pytest
from fake_control import FakeControl, linear, listed

from sweeper.errors import SettingError
from sweeper.host.settings import PATIENCE_ROUNDS, confirm_settled, control_named, put_and_read
from sweeper.records.sheet import Applied

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


def test_one_of_two_settings_with_one_name_is_named_by_its_number():
    assert [control_named(CONTROLS, name).name for name in ("Band (2)", "band(1)")] == ["Band (2)", "Band (1)"]


@pytest.mark.parametrize("name", ["Buffer Size", "Gain Reduction"])
def test_what_is_not_the_engineers_is_never_offered(name):
    for written in (name, "zzz"):
        with pytest.raises(SettingError) as refused:
            control_named(CONTROLS, written)
        assert f"'{name}'" not in refused.value.remedy
        assert f"{name}," not in refused.value.remedy + ","


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


class Sluggish:
    """A plugin whose one setting is where it was put after so many blocks of silence."""

    def __init__(self, blocks: int) -> None:
        self.left = blocks
        self.asked = 0

    def silence(self) -> None:
        self.left -= 1

    def told(self) -> dict[int, float]:
        self.asked += 1
        return {0: 0.7 if self.left <= 0 else 0.2}


@pytest.mark.parametrize(("needs", "waited", "asked"), [(0, 0, 1), (1, 16, 2), (16, 16, 2), (17, 80, 3), (80, 80, 3)])
def test_the_plugins_own_word_is_waited_for(needs, waited, asked):
    plugin = Sluggish(needs)
    control = FakeControl("Gain", linear(0, 10), "dB")
    made = [Applied("Gain", 0, "", "7 dB", 0.7, control.text_at(0.7))]
    assert confirm_settled([control], made, plugin.told, plugin.silence) == waited
    assert plugin.asked == asked


def test_what_never_comes_did_not_stick():
    plugin = Sluggish(sum(PATIENCE_ROUNDS) + 1)
    control = FakeControl("Gain", linear(0, 10, 1), "dB")
    made = [Applied("Gain", 0, "", "7 dB", 0.7, control.text_at(0.7))]
    with pytest.raises(SettingError, match="'Gain' did not stick: set to 7 dB, the plugin then showed 2"):
        confirm_settled([control], made, plugin.told, plugin.silence)
