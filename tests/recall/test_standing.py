"""Which controls that nobody set can be put back: those that stay. ZaMaximX2: Debian's zam-plugins."""

from __future__ import annotations

from dataclasses import replace

import pytest
from plugin_fixtures import done, packaged, stage
from recall_sheets import RELEASE

from sweeper.audio import AudioFormat
from sweeper.recall.orders import Kept, StandingOrder
from sweeper.records import Applied


def put_back(pool, setup, *standing, channels=2):
    order = StandingOrder((setup,), (standing,), AudioFormat(channels, 44100), 1024, 30.0)
    kept = done(pool, "sweeper.recall.standing:put_back", order)
    assert isinstance(kept, Kept)
    return kept


def test_a_control_is_taken_and_a_meter_and_one_that_is_gone_are_not(pool):
    meter = Applied("Output Level", 4, "", "", 0.7, "-13.5")
    gone = Applied("Gone", 9, "", "", 0.5, "5")
    kept = put_back(pool, stage(packaged("ZaMaximX2")), meter, RELEASE, gone)
    assert kept == Kept(((RELEASE,),), ((meter, gone),))


def test_each_side_has_its_own(pool, probes):
    sides = [Applied("Gain", 0, side, "", raw, "") for side, raw in (("mid", 0.25), ("side", 0.75))]
    kept = put_back(pool, stage(probes["mono_gain"], "mid/side"), *sides)
    assert kept.taken == (tuple(sides),)


def test_two_controls_of_one_name_are_told_apart(pool, probes):
    twins = [Applied(f"Band ({n})", n - 1, "", "", raw, "") for n, raw in ((1, 0.25), (2, 0.75))]
    kept = put_back(pool, stage(probes["twin_names"]), *twins)
    assert kept == Kept((tuple(twins),), ((),))


def test_a_stage_with_nothing_to_put_back_is_not_loaded(pool):
    nowhere = replace(stage(packaged("ZaMaximX2")), path="/nowhere.vst3")
    assert put_back(pool, nowhere) == Kept(((),), ((),))


def test_a_built_in_effect_is_put_back_like_any_other(pool):
    kept = put_back(pool, stage("builtin:Gain"), Applied("gain db", 0, "", "", 0.625, "x"))
    assert [one.raw for one in kept.taken[0]] == pytest.approx([0.625])
