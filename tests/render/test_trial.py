"""A stage tried on noise, against plugins whose delay and habits are known, and against the built-in limiter's."""

from __future__ import annotations

from dataclasses import replace

import pytest
from plugin_fixtures import PACKAGED, done, stage
from trial_probes import trial_probe, trial_probes

from sweeper.audio import AudioFormat
from sweeper.chain.model import Number
from sweeper.errors import PluginError
from sweeper.render.trial_orders import TrialOrder, Tried

STEREO = AudioFormat(2, 44100)


def tried(pool, setup, format: AudioFormat = STEREO) -> Tried:
    found = done(pool, "sweeper.render.trial:try_stage", TrialOrder(setup, format, 1024, 60.0))
    assert isinstance(found, Tried)
    return found


def kinds(found: Tried) -> set[str]:
    return {finding.kind for finding in found.findings}


def test_an_honest_delay_leaves_nothing(pool, probes):
    found = tried(pool, stage(probes["delay_honest"]))
    assert (found.reported_frames, found.taken_out_frames) == (441, 441)
    assert found.late_frames == pytest.approx(0, abs=0.01)
    assert not found.is_late


@pytest.mark.parametrize("channels", ["stereo", "left/right", "mid/side", "mid", "side"])
def test_a_lying_one_is_late_by_what_it_keeps_to_itself(pool, probes, channels):
    """441 - 64 frames: constants of the plugin."""
    found = tried(pool, stage(probes["delay_lying"], channels))
    assert found.reported_frames == 64
    assert found.late_frames == pytest.approx(377, abs=0.01)
    assert found.is_late and found.true_frames == 441


@pytest.mark.parametrize(("says", "late"), [(441, 0), (500, -59)])
def test_what_the_chain_file_says_is_tried_as_well(pool, probes, says, late):
    setup = replace(stage(probes["delay_lying"]), latency=Number(says, "samples", f"{says} samples"))
    found = tried(pool, setup)
    assert found.taken_out_frames == says
    assert found.late_frames == pytest.approx(late, abs=0.01)
    assert found.true_frames == 441


def test_a_blend_hides_no_delay(pool, probes):
    found = tried(pool, replace(stage(probes["delay_lying"]), blend=0.2))
    assert found.late_frames == pytest.approx(377, abs=0.01)


def test_a_stage_on_a_bus_is_tried_without_what_the_bus_is_added_to(pool, probes):
    found = tried(pool, replace(stage(probes["delay_lying"]), bus="lift"))
    assert found.late_frames == pytest.approx(377, abs=0.01)
    assert kinds(tried(pool, replace(stage("builtin:Gain", gain_db="-60 dB"), bus="lift"))) == set()


@pytest.mark.parametrize("format", [AudioFormat(1, 44100), AudioFormat(2, 96000)], ids=["mono", "96 kHz"])
def test_in_other_formats(pool, probes, format):
    assert tried(pool, stage(probes["delay_lying"]), format).late_frames == pytest.approx(377, abs=0.01)


def test_habits_of_plugins_without_a_licence_show(pool, tmp_path):
    found = {mode: tried(pool, stage(path)) for mode, path in trial_probes(tmp_path).items()}
    assert {mode: kinds(one) for mode, one in found.items()} == {
        "noise": {"bursts"}, "beep": {"bursts"}, "mute": {"drop-outs"}, "silent": {"silent"},
        "dry": {"dry"}}  # fmt: skip
    assert found["silent"].late_frames is None
    assert found["dry"].late_frames == pytest.approx(0, abs=0.01)


def test_a_burst_twice_as_late_as_the_trial_is_long_is_left_to_the_run(pool, tmp_path):
    assert kinds(tried(pool, stage(trial_probe(tmp_path, "noise", every_s=9.0)))) == {"dry"}


def test_a_plugin_that_cannot_be_loaded_is_named(pool):
    with pytest.raises(PluginError, match="'stage'"):
        tried(pool, stage("no such.vst3"))


#: One of each kind; the others are long.
ONE_OF_A_KIND = ("ZamCompX2", "ZamHeadX2", "ZaMaximX2", "ZamTube")
PLUGINS = [pytest.param(path.stem, marks=[] if path.stem in ONE_OF_A_KIND else [pytest.mark.long])
           for path in sorted(PACKAGED.glob("Za*.vst3"))]  # fmt: skip


@pytest.mark.parametrize("name", PLUGINS)
def test_real_plugins_are_on_time_or_their_delay_is_not_told(pool, name):
    """None of Debian's zam-plugins keeps a delay to itself; the head model has no one delay."""
    mono = name not in ("ZaMaximX2", "ZaMultiCompX2", "ZamCompX2", "ZamGateX2", "ZamHeadX2", "ZamVerb")
    found = tried(pool, stage(PACKAGED / f"{name}.vst3", "left/right" if mono else "stereo"))
    assert not found.is_late
    assert (found.late_frames is None) == (name == "ZamHeadX2")
    assert found.inverted == (name == "ZamTube"), "a valve stage turns the polarity over (handbook: common cathode)"
    assert kinds(found) <= {"dry"}
