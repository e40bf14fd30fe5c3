"""A stage's plugin examined: what is asked once is known, and a level is told from a setting before anything runs."""

from __future__ import annotations

import plugin_builder
import pytest
from plugin_fixtures import done, packaged, stage, value

from sweeper.audio.format import AudioFormat
from sweeper.chain.model import Channels
from sweeper.errors import SettingError
from sweeper.host.question import Answer, Asked, Question


def examined(pool, path, **settings) -> Answer:
    asked = tuple(Asked(name.replace("_", " "), "", value(text) if text else None) for name, text in settings.items())
    question = Question("glue", str(path), None, Channels.STEREO, AudioFormat(2, 44100), asked, 1024, 60.0)
    return done(pool, "sweeper.host.tasks:examine_stage", question)


def test_what_slow_texts_say_is_asked_once(pool, tmp_path):
    """Counted by time: at 5 ms a text the first look takes some 165 texts a setting, the second four."""
    import time

    path = plugin_builder.build("slow_text", tmp_path, title="Probe Slow Text Here", COUNT=6)
    settings = {f"Level_{number}": f"-{number}.3 dB" for number in range(1, 7)}
    seconds, answers = [], []
    for _ in range(2):
        began = time.perf_counter()
        answers.append(examined(pool, path, **settings))
        seconds.append(time.perf_counter() - began)
    assert answers[0] == answers[1]
    assert answers[0].faults == ()
    assert seconds[1] < seconds[0] / 3


@pytest.mark.parametrize("text", ["3 dB", "50 % travel", ""])
def test_a_level_that_is_named_as_a_setting_is_told(pool, text):
    answer = examined(pool, packaged("ZaMaximX2"), Threshold="-6 dB", Gain_Reduction=text)
    (fault,) = answer.faults
    assert (fault.number, fault.what) == (1, "'Gain Reduction' only shows a level: it takes no value")
    assert answer.found[0] is not None


@pytest.mark.parametrize(
    ("plugin", "name", "text"), [("ZamHeadX2", "Azimuth", "60 % travel"), ("ZamVerb", "Room", "60 % travel")]
)
def test_a_setting_that_no_host_may_move_by_itself_is_a_setting_all_the_same(pool, plugin, name, text):
    assert examined(pool, packaged(plugin), **{name: text}).faults == ()


def test_a_setting_that_the_plugin_refuses_fails_its_variant_and_not_the_chain(pool, probes):
    assert examined(pool, probes["refuse_set"], Amount="8").faults == ()


@pytest.mark.parametrize("probe", ["late", "gliding"])
def test_a_setting_that_comes_late_is_waited_for(pool, probes, probe):
    (found,) = done(pool, "hosting_tasks:applied", stage(probes[probe], Gain="6 dB"))
    assert float(found.text) == pytest.approx(6)


@pytest.mark.parametrize(
    ("probe", "name"), [("state_wrong", "Drive"), ("state_ignored", "Drive"), ("state_forgetful", "Tone")]
)
def test_a_setting_that_a_reset_loses_did_not_stick(pool, probes, probe, name):
    """A reset makes the plugin anew from its state: what it restores wrongly would be heard wrongly."""
    with pytest.raises(SettingError, match=f"'{name}' did not stick: set to 3"):
        done(pool, "hosting_tasks:applied", stage(probes[probe], **{name: "3"}))


def test_a_setting_that_a_reset_keeps_is_made_though_another_is_lost(pool, probes):
    (found,) = done(pool, "hosting_tasks:applied", stage(probes["state_forgetful"], Drive="3 dB"))
    assert float(found.text) == pytest.approx(3)


@pytest.mark.parametrize("probe", ["late", "gliding"])
def test_a_knob_that_comes_late_has_come_before_anything_is_heard(pool, probes, probe):
    """The last of the settling is over when a stage is reset: the first frame has the gain that was asked for."""
    heard = done(pool, "state_tasks:first_frame", (stage(probes[probe], Gain="6 dB"), "Gain", -12.0))
    assert heard == pytest.approx(10 ** (-12 / 20), rel=1e-4)


@pytest.mark.parametrize(
    ("plugin", "name", "text", "steps"),
    [
        ("builtin:LadderFilter", "mode", "LPF12", ((0.0, "LPF12"), (1.0, "BPF24"))),
        ("builtin:Gain", "gain db", "1 dB", ()),
    ],
)
def test_every_step_of_a_control_is_told_where_it_is_wanted(pool, plugin, name, text, steps):
    asked = (Asked(name, "", value(text), with_steps=True), Asked(name, "", value(text)))
    question = Question("glue", plugin, None, Channels.STEREO, AudioFormat(2, 44100), asked, 1024, 60.0)
    wanted, plain = done(pool, "sweeper.host.tasks:examine_stage", question).found
    assert (wanted.steps[:1] + wanted.steps[-1:], plain.steps) == (steps, ())
