"""Stages set up from a sheet: the plugin and the state where they are now, every setting where it stood."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import pytest
from plugin_fixtures import packaged
from recall_sheets import CEILING, LIMITER, SHEET, THRESHOLD

from sweeper.chain.model import Channels, Number, Travel
from sweeper.errors import PluginMissing, SheetError
from sweeper.host.setup import Dialled, RideSetup
from sweeper.recall.find import Found
from sweeper.recall.setups import required, set_up
from sweeper.records import RideRecord


@pytest.fixture
def place(tmp_path):
    """Where the sheet lies in a run folder."""
    folder = tmp_path / "results" / "run" / "variants" / "004"
    folder.mkdir(parents=True)
    return folder / "recall.json"


def stages(place, **changes):
    sheet = replace(SHEET, stages=(replace(LIMITER, **changes),))
    return set_up(Found(sheet, place, None), place.parents[3])


def test_everything_that_is_heard_is_set_up_where_it_stood(place):
    packaged("ZaMaximX2")
    (setup,) = required(stages(place, channels="mid/side", input_trim_db=1.5, label="clean"))
    assert (setup.name, setup.label, setup.output, setup.bypass) == ("limiter", "clean", True, False)
    assert (setup.channels, setup.input_trim_db, setup.output_trim_db) == (Channels.MID_SIDE, 1.5, -0.35)
    assert setup.settings == (
        Dialled("Threshold", "", Travel(THRESHOLD.raw, "-7.1 dB"), THRESHOLD.raw),
        Dialled("Output Ceiling", "", Travel(CEILING.raw, "-1 dB"), CEILING.raw),
    )


@pytest.mark.parametrize(
    ("written", "value", "unit"), [("512 samples", 512, "samples"), ("10 ms", 10, "ms"), ("0.01 s", 10, "ms")]
)
def test_a_delay_is_what_the_chain_file_said(place, written, value, unit):
    setup = stages(place, latency=written)[0].setup
    assert (setup.latency.value, setup.latency.unit) == (value, unit)


def test_a_delay_in_unknown_words_is_refused(place):
    with pytest.raises(SheetError, match="has the delay '3 bars'"):
        stages(place, latency="3 bars")


def test_how_a_stage_stands_in_the_chain_is_set_up_as_it_was(place):
    rides = (RideRecord("up", "input trim", "", "+3 dB", True, 3.0, ((1.0, 2.5),), 0.2),
             RideRecord("thick", "blend", "", "40 %", False, 0.4, ((3.0, 4.0),), 0.05),
             RideRecord("push", "Threshold", "mid", "5 % travel", True, 0.05, ((3.0, 4.0),), 0.05))  # fmt: skip
    how = {"blend": 0.7, "inverted": True, "tail_s": 1.25, "instances": 1, "bus": "lift", "is_fader": True,
           "outside": "the tape machine"}  # fmt: skip
    setup = stages(place, **how, rides=rides)[0].setup
    assert {name: getattr(setup, name) for name in how} == how
    assert setup.rides == (
        RideSetup("up", "input trim", "", Number(3.0, "dB", "+3 dB"), True, ((1.0, 2.5),), 0.2),
        RideSetup("thick", "blend", "", Number(40.0, "%", "40 %"), False, ((3.0, 4.0),), 0.05),
        RideSetup("push", "Threshold", "mid", Travel(0.05, "5 % travel"), True, ((3.0, 4.0),), 0.05),
    )


def test_a_plugin_before_what_is_kept_need_not_be_there(place):
    gone = stages(place, path="/old place/Nosuch Limiter.vst3")
    assert len(required(gone, covered=1)) == 1


def test_a_plugin_that_moved_is_found_by_its_name(place):
    (setup,) = required(stages(place, path="/old place/ZaMaximX2.vst3"))
    assert setup.path == packaged("ZaMaximX2")


def test_a_plugin_that_is_gone_is_said_with_its_stage(place):
    gone = stages(place, path="/old place/Nosuch Limiter.vst3")
    with pytest.raises(PluginMissing, match="stage 'limiter': no plugin is called 'Nosuch Limiter'") as caught:
        required(gone)
    assert "/old place/Nosuch Limiter.vst3" in caught.value.remedy


def test_a_bypassed_stage_needs_no_plugin(place):
    (setup,) = required(stages(place, path="/old place/Nosuch Limiter.vst3", bypass=True))
    assert setup.bypass


@pytest.fixture
def state(tmp_path):
    path = tmp_path / "glue.vstpreset"
    path.write_bytes(b"VST3 as it was")
    return path


def with_state(place, state: Path):
    return stages(place, state_file=str(state), state_sha256=hashlib.sha256(b"VST3 as it was").hexdigest())[0]


def test_an_untouched_state_is_taken_where_it_lies(place, state):
    stage = with_state(place, state)
    assert (stage.setup.state, stage.state_lost, stage.note) == (state, False, "")


@pytest.mark.parametrize(("where", "happened"), [("run", "has changed"), ("another run", "is gone")])
def test_a_changed_state_is_taken_from_the_copy_of_a_run(place, state, where, happened):
    kept = place.parents[3] / where / "states" / f"{hashlib.sha256(state.read_bytes()).hexdigest()}.vstpreset"
    kept.parent.mkdir(parents=True)
    kept.write_bytes(state.read_bytes())
    state.write_bytes(b"VST3 as it is now")
    if happened == "is gone":
        state.unlink()
    stage = with_state(place, state)
    assert (stage.setup.state, stage.state_lost) == (kept, False)
    assert stage.note == f"stage 'limiter': {state} {happened}; the copy that the run kept is used"


def test_a_copy_that_is_damaged_is_not_taken_and_the_loss_is_said(place, state):
    kept = place.parents[2] / "states" / f"{hashlib.sha256(state.read_bytes()).hexdigest()}.vstpreset"
    kept.parent.mkdir(parents=True)
    kept.write_bytes(b"VST3 as it w")
    state.unlink()
    stage = with_state(place, state)
    assert (stage.setup.state, stage.state_lost) == (None, True)
    assert "glue.vstpreset is nowhere to be found as it was" in stage.note


def test_unknown_channels_are_refused(place):
    with pytest.raises(SheetError, match=r"channels '5\.1'"):
        stages(place, channels="5.1")
