"""What is recorded of a stage is what stood there, enough to set it up again. ZaMaximX2: Debian's zam-plugins."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import pytest
from hosting_tasks import Clip
from plugin_fixtures import done, packaged, stage

from sweeper.chain.model import Travel
from sweeper.host.setup import RideSetup


def recorded(pool, setup, turned=()):
    return done(pool, "hosting_tasks:recorded", (setup, turned))


def texts(applied):
    return {one.name: float(one.text) for one in applied}


def test_settings_made_and_settings_left_alone_are_all_there(pool):
    record = recorded(pool, stage(packaged("ZaMaximX2"), threshold="-7.5 dB", Output_Ceiling="-1 dB"))
    assert texts(record.settings) == pytest.approx({"Threshold": -7.5, "Output Ceiling": -1}, abs=1e-4)
    assert list(texts(record.standing)) == ["Release", "Gain Reduction", "Output Level"]
    assert {one.asked for one in record.standing} == {""}
    assert (record.plugin, record.latency_frames, record.bypass) == ("ZaMaximX2", 480, False)


def test_a_setting_that_was_turned_is_recorded_where_it_stands_now(pool):
    setup = stage(packaged("ZaMaximX2"), Threshold="-7.5 dB")
    record = recorded(pool, setup, (("Threshold", -12.0), ("output trim", 2.5)))
    assert texts(record.settings) == pytest.approx({"Threshold": -12}, abs=1e-4)
    assert (record.input_trim_db, record.output_trim_db) == (0.0, 2.5)


def test_program_and_state_are_known_again_by_their_sha256(pool, tmp_path):
    state = tmp_path / "limiter.vstpreset"
    done(pool, "hosting_tasks:saved_state", (stage(packaged("ZaMaximX2")), state))
    record = recorded(pool, replace(stage(packaged("ZaMaximX2")), state=state))
    (program,) = Path(packaged("ZaMaximX2")).glob("Contents/*-linux/ZaMaximX2.so")
    assert record.program_sha256 == hashlib.sha256(program.read_bytes()).hexdigest()
    assert record.state_sha256 == hashlib.sha256(state.read_bytes()).hexdigest()
    assert record.state_file == str(state)


def test_each_side_is_recorded_by_itself(pool, probes):
    record = recorded(pool, stage(probes["mono_gain"], "mid/side", Gain="-6 dB"))
    assert [(one.side, one.name) for one in record.settings] == [("mid", "Gain"), ("side", "Gain")]
    assert [one.side for one in record.standing] == ["mid", "side"], "each has a switch that nobody touched"


def test_a_built_in_effect_has_no_program_of_its_own(pool):
    record = recorded(pool, stage("builtin:Gain", gain_db="-6 dB"))
    assert (record.program_sha256, record.state_sha256, record.state_file) == ("", "", "")
    assert record.version


def test_a_ridden_control_is_recorded_where_it_stands_outside_its_rides(pool):
    """The stretch reaches the end of the sound: the render leaves it ridden, and it goes home."""
    ride = RideSetup("up", "Threshold", "", Travel(-0.25, "-25 % travel"), True, ((0.2, 9.0),), 0.05)
    limiter = replace(stage(packaged("ZaMaximX2")), rides=(ride,))
    record = done(pool, "hosting_tasks:recorded_after_a_render", Clip((limiter,), frames=44100))
    (threshold,) = (one for one in record.standing if one.name == "Threshold")
    assert threshold.raw == 1.0
    (told,) = record.rides
    assert (told.moves, told.amount, told.relative) == (-0.25, "-25 % travel", True)
