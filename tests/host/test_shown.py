"""Numbers out of the texts that plugins show, in one unit."""

from __future__ import annotations

import itertools
import math

import pytest
from fake_control import FakeControl, linear, listed

from sweeper.host.shown import display_step, number_at, number_in, positions_of, shown_unit


@pytest.mark.parametrize(
    ("text", "label", "number"),
    [("-12.5", "dB", -12.5), ("-12,5 dB", "", -12.5), ("1.5 kHz", "", 1500), ("1.5", "kHz", 1500),
     ("1.5 kHz", "Hz", 1500), ("900 Hz", "kHz", 900), ("0.25 s", "ms", 250), ("250 ms", "s", 250),
     ("0.25", "seconds", 250), ("4:1", "", 4),
     ("4.0 : 1", "", 4), ("-inf dB", "dB", -math.inf), ("-\u221e", "dB", -math.inf), ("- Inf", "", -math.inf),
     ("\u22123 dB", "", -3), ("+3", "%", 3), ("1.5 (low)", "kHz", 1500)],
)  # fmt: skip
def test_a_text_is_a_number_in_hertz_and_milliseconds(text, label, number):
    assert number_in(text, label) == pytest.approx(number)


@pytest.mark.parametrize("text", ["", "Warm", "off", "dB 3"])
def test_what_shows_no_number_is_none(text):
    assert math.isnan(number_in(text, "dB"))


def test_one_control_that_changes_its_unit_on_the_way_has_one():
    """20 Hz to 20 kHz, shown in kHz from 1000 Hz on: numbers rise throughout."""
    def text(raw: float) -> str:
        hertz = 20 * 1000**raw
        return f"{hertz:.1f} Hz" if hertz < 1000 else f"{hertz / 1000:.3f} kHz"

    control = FakeControl("Frequency", text)
    numbers = [number_at(control, raw / 64) for raw in range(65)]
    assert numbers == sorted(numbers)
    assert (numbers[0], numbers[-1]) == (20, 20000)
    assert shown_unit(control) == "Hz"


@pytest.mark.parametrize(
    ("show", "unit", "expected"),
    [(linear(0, 1), "dB", "dB"), (linear(0, 1), "kHz", "Hz"), (linear(0, 1), "sec", "ms"), (linear(0, 1), "", ""),
     (lambda raw: f"{raw} ms", "", "ms"), (listed("Clean", "Warm"), "", ""), (lambda raw: "4 to 1 please", "", ""),
     (lambda raw: "off" if raw < 0.9 else "3 dB", "", "dB"), (lambda raw: f"{raw}", "st", "st")],
)  # fmt: skip
def test_a_unit_is_the_label_or_what_stands_behind_the_numbers(show, unit, expected):
    assert shown_unit(FakeControl("x", show, unit)) == expected


@pytest.mark.parametrize(
    ("text", "label", "step"),
    [("-12", "dB", 1), ("-12.5", "dB", 0.1), ("-12,50 dB", "", 0.01), ("1.50 kHz", "", 10), ("0.250", "s", 1),
     ("900", "Hz", 1), ("Warm", "", 0), ("3.0:1", "", 0.1)],
)  # fmt: skip
def test_the_smallest_change_that_shows_is_one_of_the_last_digit(text, label, step):
    assert display_step(text, label) == pytest.approx(step)


def test_a_stepped_control_is_looked_at_on_its_steps_and_any_other_at_even_places():
    assert positions_of(FakeControl("x", linear(0, 1), steps=3)) == (0.0, 0.5, 1.0)
    for steps in (0, 1, 1001):
        found = positions_of(FakeControl("x", linear(0, 1), steps=steps))
        assert (found[0], found[-1], len(found)) == (0.0, 1.0, 65)
        assert {round(b - a, 9) for a, b in itertools.pairwise(found)} == {0.015625}
    assert len(positions_of(FakeControl("x", linear(0, 1), steps=1000))) == 1000
