"""Axes: round values, times as read, nothing outside."""

import pytest

from sweeper.pictures.axis import MOST_TIMES, Axis, nice_step, round_values, times_s
from sweeper.pictures.svg import number, printable, shortened, signed, text_width_px


def test_values_outside_are_at_the_ends():
    up = Axis(-60.0, 0.0, 400.0, 100.0)
    assert [up.at(value) for value in (-90.0, -60.0, -30.0, 0.0, 3.0)] == [400.0, 400.0, 250.0, 100.0, 100.0]


def test_round_values_hold_both_ends():
    assert round_values(-20.0, 0.0, 5.0) == [-20.0, -15.0, -10.0, -5.0, 0.0]
    assert round_values(-23.0, -11.0, 5.0) == [-20.0, -15.0]
    assert nice_step(30.0, 6, (1.0, 5.0, 10.0)) == 5.0
    assert nice_step(300.0, 6, (1.0, 5.0, 10.0)) == 50.0


@pytest.mark.parametrize(
    ("duration_s", "second", "last"),
    [(0.05, "0.01", "0.05"), (1.0, "0.1", "1.0"), (14.0, "0:01", "0:14"), (200.0, "0:15", "3:15"),
     (3600.0, "5:00", "1:00:00"), (86400.0, "2:00:00", "24:00:00")],
)  # fmt: skip
def test_times_as_read(duration_s, second, last):
    shown = [words for _, words in times_s(duration_s)]
    assert (shown[1], shown[-1]) == (second, last)
    assert len(shown) <= MOST_TIMES + 1


def test_numbers_are_short_and_never_minus_zero():
    assert [number(value) for value in (-0.04, 10.0, 0.25, -3.0)] == ["0", "10", "0.2", "-3"]
    assert [signed(-0.004, 2), signed(-14.0, 1), signed(23830, 0), signed(0, 0)] == ["0.00", "−14.0", "23,830", "0"]


def test_what_is_too_long_is_cut_to_its_place():
    assert shortened("mix.wav", 11, 100.0) == "mix.wav"
    cut = shortened("W" * 50, 20, 100.0, bold=True)
    assert cut.endswith("…")
    assert text_width_px(cut, 20, bold=True) <= 100.0
    assert shortened("mix", 11, 2.0) == ""
    assert printable("a\x00\udc80b") == "a��b"
