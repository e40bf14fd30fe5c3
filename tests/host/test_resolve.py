"""From what was written to a control's position, on controls of known law."""

from __future__ import annotations

import pytest
from fake_control import FakeControl, linear, listed
from hypothesis import given
from hypothesis import strategies as st

from sweeper.chain.model import Choice, Number, Switch, Travel
from sweeper.errors import SettingError
from sweeper.host.resolve import resolve, snapped
from sweeper.host.shown import number_at, shown_unit

THRESHOLD = FakeControl("Threshold", linear(-30, 0), "dB")
FREQUENCY = FakeControl("Frequency", lambda raw: f"{20 * 1000**raw:.1f} Hz")
BANDWIDTH = FakeControl("Frequency", lambda raw: f"{raw * 10:.2f} kHz" if raw >= 0.1 else f"{raw * 10000:.0f} Hz", "Hz")
MODE = FakeControl("Mode", listed("Clean", "Warm", "Hot"), steps=3)
SWITCH = FakeControl("Soft", listed("Off", "On"), steps=2)
BARE_SWITCH = FakeControl("Peaks ON", listed("0.000000", "1.000000"), steps=2)
BACKWARDS = FakeControl("Ratio", linear(20, 1, 2), ":1")
WITH_INFINITY = FakeControl("Level", lambda raw: "-inf dB" if raw == 0 else f"{-60 + 60 * raw:.2f} dB")


def number(value: float, unit: str = "") -> Number:
    return Number(value, unit, f"{value:g} {unit}".strip())


@given(st.floats(-30, 0))
def test_a_number_is_found_to_the_plugins_own_decimals(value):
    raw = resolve(THRESHOLD, number(round(value, 6), "dB"))
    assert number_at(THRESHOLD, raw) == pytest.approx(value, abs=2e-6)


@pytest.mark.parametrize(
    ("control", "value", "shown"),
    [
        (FREQUENCY, number(1, "kHz"), 1000.0),
        (FREQUENCY, number(440, "Hz"), 440.0),
        (FREQUENCY, number(440), 440.0),
        (BANDWIDTH, number(500, "Hz"), 500.0),
        (BANDWIDTH, number(5, "kHz"), 5000.0),
        (BACKWARDS, number(1.5), 1.5),
        (BACKWARDS, number(4, ":1"), 4.0),
        (WITH_INFINITY, number(-12, "dB"), -12.0),
    ],
)
def test_units_are_converted_and_texts_followed(control, value, shown):
    assert number_at(control, resolve(control, value)) == pytest.approx(shown, rel=1e-3)


@pytest.mark.parametrize(
    ("control", "value", "raw"),
    [
        (MODE, Choice("warm"), 0.5), (MODE, Choice("HOT"), 1.0), (SWITCH, Switch(True, "on"), 1.0),
        (SWITCH, Switch(False, "no"), 0.0), (BARE_SWITCH, Switch(True, "yes"), 1.0),
        (BARE_SWITCH, Switch(False, "off"), 0.0), (BARE_SWITCH, number(0), 0.0),
        (MODE, Travel(0.4, "40 % travel"), 0.5), (THRESHOLD, Travel(0.37, "37 % travel"), 0.37),
        (FakeControl("Stages", listed("1", "2", "3", "4"), steps=4), number(3), 2 / 3),
    ],
)  # fmt: skip
def test_choices_switches_and_travel(control, value, raw):
    assert resolve(control, value) == pytest.approx(raw)


@pytest.mark.parametrize(
    ("control", "value", "what", "remedy"),
    [
        (THRESHOLD, number(-40, "dB"), "'Threshold' cannot be -40 dB", "it goes from -30 to 0 dB"),
        (THRESHOLD, number(3, "dB"), "'Threshold' cannot be 3 dB", "it goes from -30 to 0 dB"),
        (THRESHOLD, number(5, "ms"), "'Threshold' is in dB, not in ms", "from -30 to 0 dB"),
        (FREQUENCY, number(5, "dB"), "is in Hz, not in dB", "from 20.0 Hz to 20000.0 Hz"),
        (MODE, Choice("Cold"), "'Mode' cannot be 'Cold'", "it can be Clean, Warm, Hot"),
        (THRESHOLD, Switch(True, "on"), "'Threshold' is not a switch", "from -30 to 0 dB"),
        (THRESHOLD, Choice("loud"), "'Threshold' cannot be 'loud'", "from -30 to 0 dB"),
        (FakeControl("Stages", listed("1", "2", "4"), steps=3), number(7), "'Stages' cannot be 7", "1, 2, 4"),
    ],
)
def test_what_cannot_be_is_refused_with_the_plugins_own_range(control, value, what, remedy):
    with pytest.raises(SettingError) as refused:
        resolve(control, value)
    assert what in refused.value.what
    assert remedy in refused.value.remedy


def test_a_coarse_text_gives_the_middle_of_where_it_is_shown():
    raw = resolve(FakeControl("Gain", linear(0, 10, 0), "dB"), number(4, "dB"))
    assert raw == pytest.approx(0.4, abs=0.005)


def test_between_two_shown_values_the_nearer_one_is_taken():
    control = FakeControl("Gain", linear(0, 10, 0), "dB")
    assert control.text_at(resolve(control, number(4.3, "dB"))) == "4"
    assert control.text_at(resolve(control, number(4.8, "dB"))) == "5"


def test_the_unit_of_a_control():
    assert (shown_unit(THRESHOLD), shown_unit(FREQUENCY), shown_unit(MODE)) == ("dB", "Hz", "")


NO_LABEL = FakeControl("Freq", lambda raw: f"{100 * 200**raw:.0f} Hz" if raw < 0.43 else f"{0.1 * 200**raw:.2f} kHz")


@pytest.mark.parametrize(("asked", "shown"), [((15, "kHz"), 15000), ((1200, "Hz"), 1200), ((200, "Hz"), 200),
                                             ((2, "kHz"), 2000), ((100, "Hz"), 100), ((20, "kHz"), 20000)])  # fmt: skip
def test_a_plugin_that_changes_units_in_its_text_is_followed(asked, shown):
    raw = resolve(NO_LABEL, number(*asked))
    assert number_at(NO_LABEL, raw) == pytest.approx(shown, rel=0.01)
    assert shown_unit(NO_LABEL) == "Hz"


def test_seconds_and_milliseconds_are_one_unit():
    control = FakeControl("Release", lambda raw: f"{raw * 2000:.0f} ms" if raw < 0.5 else f"{raw * 2:.2f} s")
    assert resolve(control, number(1.5, "s")) == pytest.approx(0.75, abs=0.003)
    assert resolve(control, number(250, "ms")) == pytest.approx(0.125, abs=0.001)


@pytest.mark.parametrize(
    ("control", "value", "remedy"),
    [
        (WITH_INFINITY, number(-90, "dB"), "it goes from"),
        (FakeControl("Ratio", listed("1", "2", "4", "10"), steps=4), number(3), "it can be 1, 2, 4, 10"),
        (FakeControl("Stages", listed("1", "2", "3", "4"), steps=4), number(1.4), "it can be 1, 2, 3, 4"),
        (FakeControl("Jump", lambda raw: "0.0" if raw < 0.5 else f"{100 * raw:.1f}"), number(20), "it can be 0 or 50"),
        (FakeControl("Q", linear(0.1, 10, 2)), number(2, "kHz"), "it goes from 0.1 to 10"),
        (FakeControl("Attack", linear(0.1, 100, 2)), number(0.5, "s"), "it goes from 0.1 to 100"),
    ],
)  # fmt: skip
def test_what_a_control_does_not_show_is_refused_not_rounded(control, value, remedy):
    with pytest.raises(SettingError) as refused:
        resolve(control, value)
    assert f"'{control.name}'" in refused.value.what
    assert remedy in refused.value.remedy


def test_the_end_of_a_range_is_forgiven_what_its_text_cannot_tell():
    control = FakeControl("Freq", linear(20, 19999.998, 3), "Hz")
    assert resolve(control, number(20, "kHz")) == pytest.approx(1.0, abs=1e-6)


def test_positions_snap_to_steps():
    assert snapped(MODE, 0.3) == 0.5
    assert snapped(THRESHOLD, 0.3) == 0.3


def near(value: float, unit: str = "") -> Number:
    return Number(value, unit, f"{value:g} {unit}".strip(), near=True)


@pytest.mark.parametrize(
    ("control", "value", "shown"),
    [
        (FakeControl("Ratio", listed("1", "2", "4", "10"), steps=4), near(3.5), 4),
        (FakeControl("Gain", lambda raw: f"{5 * round(4 * raw)}.00", "dB"), near(7.1, "dB"), 5),
        (THRESHOLD, near(-12.5, "dB"), -12.5),
    ],
)
def test_where_the_nearest_is_meant_a_control_that_jumps_over_it_takes_that(control, value, shown):
    assert number_at(control, resolve(control, value)) == pytest.approx(shown)


@pytest.mark.parametrize("control", [THRESHOLD, FakeControl("Ratio", listed("1", "2", "4"), steps=3)])
def test_what_is_beyond_a_controls_ends_is_near_to_nothing(control):
    with pytest.raises(SettingError, match="cannot be 40"):
        resolve(control, near(40))
