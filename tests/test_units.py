"""Numbers as people write them. 6.02 dB is a factor of two; the spellings are those of EBU R 128 and SI."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweeper.units import (
    Amount,
    clock,
    folded,
    gain,
    level_db,
    parse_amount,
    parse_time_s,
    plain,
    same_unit,
)


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [("-10 LUFS", -10, "LUFS"), ("0,5 dB", 0.5, "dB"), ("1.2 kHz", 1.2, "kHz"), ("12", 12, ""), ("  +3DB ", 3, "dB"),
     ("-23 lkfs", -23, "LUFS"), ("30msec", 30, "ms"), ("2 seconds", 2, "s"), ("37 % travel", 37, "% travel"),
     ("37%", 37, "%"), (".5 dBtp", 0.5, "dBTP"), ("5.", 5, ""), ("1e3 hz", 1000, "Hz"), ("64 samples", 64, "frames"),
     ("\u22123\u00a0dB", -3, "dB"), ("\u20133 dB", -3, "dB"), ("4 furlongs", 4, "furlongs"),
     ("37 %  TRAVEL", 37, "% travel")],
)  # fmt: skip
def test_an_amount_is_a_number_and_a_unit_in_our_spelling(text, value, unit):
    assert parse_amount(text) == Amount(value, unit)


@pytest.mark.parametrize("text", ["", "loud", "dB 3", "-", "- 3 dB", "inf", "nan"])
def test_what_does_not_begin_with_a_number_is_none(text):
    assert parse_amount(text) is None


SHORT = st.floats(-1e5, 1e5).map(lambda value: float(f"{value:g}"))


@given(SHORT, st.sampled_from(["", "dB", "LUFS", "kHz", "% travel"]))
def test_an_amount_is_read_as_it_is_written(value, unit):
    assert parse_amount(str(Amount(value, unit))) == Amount(value, unit)


@pytest.mark.parametrize(
    ("amount", "unit", "value"),
    [(Amount(1.5, "kHz"), "Hz", 1500), (Amount(250, "Hz"), "kHz", 0.25), (Amount(0.03, "s"), "ms", 30),
     (Amount(30, "ms"), "s", 0.03), (Amount(3, ""), "dB", 3), (Amount(3, "db"), "dB", 3), (Amount(3, "dB"), "LU", None),
     (Amount(3, "s"), "Hz", None), (Amount(3, "kHz"), "ms", None), (Amount(3, "dB"), "", None)],
)  # fmt: skip
def test_units_compare_where_one_is_a_multiple_of_the_other(amount, unit, value):
    assert same_unit(amount, unit) == (value if value is None else pytest.approx(value))


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("1:05", 65), ("1:02:03.5", 3723.5), ("65", 65), ("65 s", 65), ("1500 ms", 1.5), ("0:00", 0), ("1:05,25", 65.25),
     ("1:5", 65), (" 2:00 ", 120), ("75:03", 4503), ("1:60", None), ("1:2:3:4", None), ("-5", None), ("3 dB", None),
     ("soon", None), ("1:", None), ("1e999", None)],
)  # fmt: skip
def test_a_time_is_read_as_seconds(text, seconds):
    assert parse_time_s(text) == seconds


@pytest.mark.parametrize(("seconds", "text"), [(65, "1:05.0"), (59.96, "1:00.0"), (0.04, "0:00.0"), (3599.9, "59:59.9"),
                                               (4503.2, "75:03.2")])  # fmt: skip
def test_a_position_is_minutes_seconds_and_tenths(seconds, text):
    assert clock(seconds) == text


@given(st.floats(0, 1e5))
def test_a_position_is_read_back_to_the_tenth(seconds):
    assert parse_time_s(clock(seconds)) == pytest.approx(seconds, abs=0.0501)


@pytest.mark.parametrize(("level", "factor"), [(0, 1), (20, 10), (-20, 0.1), (6.0206, 2), (-3.0103, math.sqrt(0.5))])
def test_decibels_of_amplitude(level, factor):
    assert gain(level) == pytest.approx(factor, rel=1e-5)
    assert level_db(factor) == pytest.approx(level, abs=1e-4)


def test_nothing_is_infinitely_far_down():
    assert gain(-math.inf) == 0.0
    assert level_db(0.0) == -math.inf


@pytest.mark.parametrize("written", ["Output Gain", "output gain", "OUTPUT  GAIN", "outputgain", " output\tgain"])
def test_names_are_compared_without_case_and_spaces(written):
    assert folded(written) == folded("Output Gain") != folded("Output-Gain")


def test_what_a_word_processor_makes_of_plain_signs_is_undone():
    assert plain("\u2212\u20131\u00a0\u201cx\u201d \u2018y\u2019 \ufb02at") == "--1 \"x\" 'y' flat"
