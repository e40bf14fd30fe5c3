"""Levels, and numbers that do not exist."""

import math

import pytest

from sweeper.meter.findings import Finding, absent, found, level, peak_level


@pytest.mark.parametrize(("power", "expected_db"), [(1.0, 0.0), (0.5, -3.0103), (4.0, 6.0206), (1e-12, -120.0)])
def test_power_in_decibels(power, expected_db):
    assert level(power).value == pytest.approx(expected_db, abs=1e-4)


def test_amplitude_in_decibels():
    assert peak_level(0.5).value == pytest.approx(-6.0206, abs=1e-4)


@pytest.mark.parametrize("power", [0.0, 1e-310, 1e-61])
def test_what_nobody_can_hear_is_silence(power):
    assert level(power) == Finding(None, "digital silence")


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_neither_nan_nor_infinity_gets_out(value):
    assert found(value) == Finding(None, "beyond what can be measured")


def test_absent_has_a_reason():
    assert absent("too short") == Finding(None, "too short")
