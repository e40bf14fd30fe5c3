"""A file against a target, by arithmetic on the numbers of EBU R 128, its s1, and ATSC A/85 (test_documents.py)."""

from __future__ import annotations

import pytest

from sweeper.quantities import Measurements
from sweeper.targets import BY_ID, gain_to_target_db, held, requirements


def measured(loudness: float | None, peak: float | None = -3.0, short_term: float | None = -20.0) -> Measurements:
    values = {"loudness_lufs": loudness, "true_peak_dbtp": peak, "short_term_max_lufs": short_term}
    return Measurements(values, {key: "silence" for key, value in values.items() if value is None})


def test_what_a_target_asks_is_said_in_its_units():
    assert [one.words for one in requirements(BY_ID["ebu-r128-short-form"])] == [
        "-23.2 to -22.8 LUFS", "at most -1 dBTP", "at most -18 LUFS"]  # fmt: skip
    assert [one.words for one in requirements(BY_ID["atsc-a85"])] == ["-26 to -22 LUFS", "at most -2 dBTP"]


@pytest.mark.parametrize(
    ("id", "loudness", "outside"),
    [
        ("ebu-r128", -23.0, 0), ("ebu-r128", -23.2, 0), ("ebu-r128", -22.8, 0), ("ebu-r128", -22.79, 0.01),
        ("ebu-r128", -23.3, -0.1), ("ebu-r128", -10.0, 12.8), ("ebu-r128-live", -22.0, 0),
        ("ebu-r128-live", -24.5, -0.5), ("atsc-a85", -26.0, 0), ("atsc-a85", -22.0, 0), ("atsc-a85", -21.0, 1.0),
        ("atsc-a85", -27.5, -1.5),
    ],
)  # fmt: skip
def test_the_loudness_is_met_within_the_tolerance_or_missed_by_what_it_is_beyond(id, loudness, outside):
    one = held(BY_ID[id], measured(loudness))[0]
    assert one.outside == pytest.approx(outside, abs=1e-9)
    assert one.met is (outside == 0)


@pytest.mark.parametrize(
    ("id", "peak", "outside"),
    [("ebu-r128", -1.0, 0), ("ebu-r128", -0.7, 0.3), ("ebu-r128", -30, 0), ("atsc-a85", -2, 0), ("atsc-a85", -1, 1)],
)
def test_the_true_peak_is_met_at_its_ceiling_and_below(id, peak, outside):
    one = held(BY_ID[id], measured(-23.0, peak))[1]
    assert (one.met, one.outside) == (outside == 0, pytest.approx(outside))


def test_only_short_forms_are_held_by_their_loudest_three_seconds():
    loud = measured(-23.0, short_term=-17.0)
    last = held(BY_ID["ebu-r128-short-form"], loud)[2]
    assert (last.requirement.key, last.met, last.outside) == ("short_term_max_lufs", False, pytest.approx(1.0))
    assert all(one.met for one in held(BY_ID["ebu-r128"], loud))


def test_what_was_not_measured_is_not_judged_and_says_why():
    loudness, peak = held(BY_ID["ebu-r128"], measured(None, None))
    assert (loudness.met, loudness.outside, loudness.reason) == (None, None, "silence")
    assert peak.met is None
    assert held(BY_ID["ebu-r128"], Measurements({}))[0].reason == "not measured"
    assert gain_to_target_db(BY_ID["ebu-r128"], measured(None)) is None


def test_the_gain_to_the_goal_is_the_difference():
    assert gain_to_target_db(BY_ID["atsc-a85"], measured(-9.5)) == pytest.approx(-14.5)
