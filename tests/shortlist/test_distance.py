"""How far apart two variants are in what was varied: by hand, on the settings of an invented run."""

from __future__ import annotations

import math

import pytest
from invented_rows import measured, row

from sweeper.records import Applied, StageRecord
from sweeper.shortlist.contender import Contender
from sweeper.shortlist.distance import Setting, spans_of
from sweeper.shortlist.distance import distance as distance_of


def distance(one, other, spans):
    """Of settings of which only the text is known."""
    ours, theirs = ({name: Setting(text) for name, text in settings.items()} for settings in (one, other))
    return distance_of(ours, theirs, spans)


RUN = [
    {"glue.threshold": "-20 dB", "glue.release": "10 ms", "limiter.knee": "off"},
    {"glue.threshold": "-10 dB", "glue.release": "1 s", "limiter.knee": "on"},
]


@pytest.mark.parametrize(
    ("one", "other", "apart"),
    [
        ({"glue.threshold": "-12 dB"}, {"glue.threshold": "-12 dB"}, 0.0),
        ({"glue.threshold": "-12 dB"}, {"glue.threshold": "-12.5 dB"}, 0.05),
        ({"glue.threshold": "-20 dB"}, {"glue.threshold": "-10 dB"}, 1.0),
        ({"glue.release": "100 ms"}, {"glue.release": "0.1 s"}, 0.0),
        ({"glue.release": "10 ms"}, {"glue.release": "100 ms"}, 0.5),
        ({"glue.threshold": "-12 dB", "glue.release": "10 ms"}, {"glue.threshold": "-11 dB", "glue.release": "1 s"}, 1),
        ({"limiter.knee": "on"}, {"limiter.knee": "off"}, math.inf),
        ({"limiter.knee": "on", "glue.threshold": "-12 dB"}, {"glue.threshold": "-12 dB"}, math.inf),
        ({}, {}, math.inf),
    ],
)  # fmt: skip
def test_the_setting_that_differs_most_decides_by_its_share_of_the_span(one, other, apart):
    assert distance(one, other, spans_of(RUN)) == pytest.approx(apart)
    assert distance(other, one, spans_of(RUN)) == pytest.approx(apart)


def test_a_plugins_control_is_measured_by_its_way_whatever_the_run_varied():
    run = [{"glue.threshold": "-12 dB"}, {"glue.threshold": "-15 dB"}]
    one, other = ({"glue.threshold": Setting(settings["glue.threshold"], {("Threshold", ""): raw})}
                  for settings, raw in zip(run, (0.8, 0.75), strict=True))  # fmt: skip
    assert distance_of(one, other, spans_of(run)) == pytest.approx(0.05)
    mode = [{"glue.mode": Setting(text, {("Mode", ""): raw})} for text, raw in (("opto", 0.4), ("valve", 0.45))]
    assert distance_of(*mode, spans_of([])) == math.inf, "a word is another choice, however near its position"


def test_where_controls_stood_is_read_from_the_sheet_by_handle_or_name():
    applied = (Applied("Threshold", 0, "", "-12 dB", 0.8, "-12.0 dB"), Applied("Gain", 1, "", "-12 dB", 0.1, "-12 dB"))
    stage = StageRecord("glue", "Glue", "/g", "", "", "", "", "", "", "stereo", False, 0.0, 0.0, 0, applied, ())
    varied = {"glue.threshold": "-12 dB", "glue.input trim": "-1 dB"}
    settings = Contender(row("001", measured()), varied, recorded=lambda: (stage,)).settings
    assert settings["glue.threshold"].positions == {("Threshold", ""): 0.8}
    assert settings["glue.input trim"].positions == {}
    (drive,) = Contender(row("001", measured()), {"glue.drive": "-12 dB"}, recorded=lambda: (stage,)).settings.values()
    assert drive.positions == {("Threshold", ""): 0.8, ("Gain", ""): 0.1}


def test_steps_from_where_a_setting_is_dialled_are_numbers():
    run = [{"colour.drive": f"dialled {step}"} for step in ("0 % travel", "+5 % travel", "-5 % travel")]
    assert distance(run[1], run[2], spans_of(run)) == pytest.approx(1.0)
    assert distance(run[0], run[2], spans_of(run)) == pytest.approx(0.5)


def test_another_plugin_is_another_choice_even_where_both_are_called_by_numbers():
    run = [{"colour": "2 Band Valve"}, {"colour": "3 Band Valve"}, {"sequence": "1"}, {"sequence": "2"}]
    assert distance(run[0], run[1], spans_of(run)) == math.inf
    assert distance(run[2], run[3], spans_of(run)) == math.inf
