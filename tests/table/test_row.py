"""What a row says of a variant: whether it is one to listen to, and its settings as people read them."""

from __future__ import annotations

from dataclasses import replace

import pytest
from invented_rows import failed, limits, loudness_solved, measured, peak_solved, row

from sweeper.plan.reach import Ending
from sweeper.quantities import Measurements
from sweeper.table.row import solved_text


def test_on_target_and_inside_every_limit_it_fits():
    held = limits("true peak <= -1 dBTP", "crest >= 8 dB")
    assert row("1", measured(), held, [loudness_solved()]).fits
    assert row("1", measured()).fits, "nothing was asked of it"


@pytest.mark.parametrize("worse", [{"peak": -0.9}, {"crest": 7.99}])
def test_outside_one_limit_it_does_not(worse):
    held = limits("true peak <= -1 dBTP", "crest >= 8 dB")
    assert not row("1", measured(**worse), held, [loudness_solved()]).fits


@pytest.mark.parametrize(
    ("ending", "fits"),
    [(Ending.ON_TARGET, True), (Ending.STOPPED, True), (Ending.NOT_ENGAGED, True), (Ending.OUT_OF_REACH, False)],
)
def test_stopped_as_asked_is_a_result_and_out_of_reach_is_not(ending, fits):
    assert row("1", measured(), solved=[loudness_solved(), peak_solved(ending=ending)]).fits is fits


def test_a_limit_on_what_mono_does_not_have_is_not_broken_there_and_any_other_has_to_be_judged():
    of_two = ("correlation", "correlation_worst", "mono_loss_lu")
    mono = Measurements({"loudness_lufs": -10.0, "crest_db": None} | dict.fromkeys(of_two),
                        {"crest_db": "silence"} | dict.fromkeys(of_two, "mono"))  # fmt: skip
    assert row("1", mono, limits("mono loss <= 1 LU", "correlation >= 0.2", "correlation.worst >= 0")).fits
    assert not row("1", mono, limits("mono loss <= 1 LU", "crest >= 8 dB")).fits


def test_what_failed_never_fits():
    assert not failed("1").done
    assert not failed("1").fits
    assert row("1", measured()).done


@pytest.mark.parametrize(
    ("at", "unit", "text"),
    [(-7.2512, "dB", "-7.25 dB"), (-7.0, "dB", "-7 dB"), (100.0, "dB", "100 dB"), (-0.004, "dB", "0 dB"),
     (0.0, "dB", "0 dB"), (0.31256, "s", "0.3126 s"), (0.5, "", "0.5"), (2.34567, "kHz", "2.3457 kHz"),
     (37.128, "% travel", "37.13 % travel"), (-0.00001, "", "0"), (20.0, "Hz", "20 Hz")],
)  # fmt: skip
def test_a_solved_setting_is_rounded_as_finely_as_anybody_turns(at, unit, text):
    assert solved_text(replace(loudness_solved(at=at), unit=unit)) == text


def test_an_alternate_that_comes_out_above_its_ceiling_does_not_fit():
    loud = loudness_solved(-12.0, Ending.AS_MAIN)
    assert row("001", measured(), solved=(loud, peak_solved(-1.2, Ending.AS_MAIN))).fits
    assert not row("001", measured(), solved=(loud, peak_solved(-0.8, Ending.AS_MAIN))).fits
