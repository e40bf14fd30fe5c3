"""One stage as set for a variant, and what of it is heard."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweeper.chain import load_chain
from sweeper.chain.model import Number, Travel
from sweeper.host.question import Found
from sweeper.plan.examined import Examined
from sweeper.plan.setups import Setups, without_buses_off


@pytest.fixture
def made(tmp_path: Path):
    """Setups of a chain file's text; found: (stage, label, setting, side) -> position for each value in turn."""
    for name in ("a.wav", "one.vstpreset", "other.vstpreset"):
        (tmp_path / name).write_bytes(b"")

    def setups(text: str, raws=None, lacking=()):
        (tmp_path / "c.yaml").write_text("mix: a.wav\n" + text)
        chain = load_chain(tmp_path / "c.yaml")
        paths = {(c.name, c.label): c.plugin for stage in chain.stages for c in stage.choices}
        missing = frozenset((key, chain.vary[number].ref) for key, number in lacking)
        found = raws(chain) if raws else {}
        return ByNumber(chain, Examined(paths, found=found, lacking=missing))

    return setups


class ByNumber(Setups):
    """Takes the values of `vary` by their numbers."""

    def __init__(self, chain, examined) -> None:
        super().__init__(chain, examined)
        self.chain = chain

    def heard(self, stage, choice, values):
        chosen = zip(self.chain.vary, values, strict=True)
        return super().heard(stage, choice, tuple(axis.values[number] for axis, number in chosen))


def told(heard):
    return [(s.name, s.side, s.value.text, s.raw) for s in heard.setup.settings]


def test_a_choice_of_other_stages_values_makes_no_other_setup(made):
    setups = made("""
inserts: [{name: a, plugin: A, settings: {Mix: 1}}, {name: b, plugin: B}]
vary: {a.Gain: [1, 2], b.Gain: [1, 2]}
""")
    assert setups.heard(0, 0, (1, 0)) is setups.heard(0, 0, (1, 1))
    assert setups.heard(0, 0, (0, 0)) is not setups.heard(0, 0, (1, 0))
    assert told(setups.heard(0, 0, (1, 0))) == [("Mix", "", "1", None), ("Gain", "", "2", None)]
    assert (setups.heard(0, 0, (1, 0)).axes, setups.heard(1, 0, (1, 0)).axes) == ({0}, {1})


def test_sound_is_told_apart_by_what_is_heard_and_not_by_names(made):
    setups = made("""
inserts:
  - {name: a, plugin: P, settings: {Gain: 1 dB}}
  - {name: b, plugin: P, settings: {gain: 1 dB}}
  - {name: c, plugin: P, settings: {Gain: 2 dB}}
  - {name: d, plugin: P, settings: {Gain: 1 dB}, input trim: 1 dB}
  - {name: e, plugin: P, settings: {Gain: 1 dB}, channels: mid}
  - {name: f, plugin: Q, settings: {Gain: 1 dB}}
  - {name: g, plugin: P, settings: {Gain: 1 dB}, output trim: 1 dB}
  - {name: h, plugin: P}
  - {name: i, plugin: P, channels: side}
  - {name: j, plugin: P, state: one.vstpreset}
  - {name: k, plugin: P, state: other.vstpreset}
""")
    sounds = [setups.heard(number, 0, ()).sound for number in range(11)]
    assert sounds[0] == sounds[1]
    assert len(set(sounds)) == 10


def test_a_setting_for_every_side_sounds_as_one_for_each(made):
    setups = made("""
inserts:
  - {name: a, plugin: P, channels: mid/side, settings: {Gain: 1 dB}}
  - {name: b, plugin: P, channels: mid/side, settings: {mid: {Gain: 1 dB}, side: {Gain: 1 dB}}}
  - {name: c, plugin: P, channels: mid/side, settings: {mid: {Gain: 1 dB}}}
""")
    one, each, mid = (setups.heard(number, 0, ()).sound for number in range(3))
    assert one == each != mid


def test_a_trim_that_is_varied_sounds_as_the_stages_own(made):
    setups = made("""
inserts: [{name: a, plugin: P, output trim: 1 dB}, {name: b, plugin: P}]
vary: {b.output trim: [1 dB, 2 dB]}
""")
    assert setups.heard(0, 0, (0,)).sound == setups.heard(1, 0, (0,)).sound
    assert setups.heard(0, 0, (0,)).sound != setups.heard(1, 0, (1,)).sound


def test_behind_a_bypass_no_other_axis_is_heard(made):
    setups = made("""
inserts: [{name: a, plugin: P}]
vary: {a.bypass: [on, off], a.Gain: [1, 2]}
""")
    on, off = setups.heard(0, 0, (0, 1)), setups.heard(0, 0, (1, 1))
    assert (on.setup.bypass, on.sound, on.axes) == (True, None, {0})
    assert (off.setup.bypass, off.axes) == (False, {0, 1})


def test_an_alternative_is_set_without_what_it_lacks(made):
    setups = made("""
inserts:
  - {name: colour, any of: [{plugin: Valve, settings: {Warmth: 3}}, {plugin: Iron, input trim: -1 dB}]}
vary: {colour.Mix: [1, 2]}
""", lacking=[(("colour", "Iron"), 0)])  # fmt: skip
    valve, iron = setups.heard(0, 0, (1,)), setups.heard(0, 1, (1,))
    assert (told(valve), valve.axes) == ([("Warmth", "", "3", None), ("Mix", "", "2", None)], {0})
    assert (told(iron), iron.axes) == ([], set())
    assert (iron.setup.path, iron.setup.label, iron.setup.input_trim_db) == ("Iron", "Iron", -1)


def test_values_stand_under_the_plugins_own_name_at_the_position_that_was_found(made):
    def raws(chain):
        (own,) = chain.stages[0].settings
        return {(("a", ""), "gain", "", own.value): Found("Gain (dB)", 0.625)}

    setups = made("inserts: [{name: a, plugin: P, settings: {gain: 3 dB}}]\n", raws)
    assert told(setups.heard(0, 0, ())) == [("Gain (dB)", "", "3 dB", 0.625)]


@pytest.mark.parametrize(("right", "expected"), [(0.5, [("Gain", "", 0.5)]),
                                                 (0.75, [("Gain", "left", 0.5), ("Gain", "right", 0.75)])])  # fmt: skip
def test_a_step_leads_to_one_setting_where_every_side_comes_to_the_same(made, right, expected):
    def raws(chain):
        (step,) = chain.vary[0].values
        return {(("a", ""), "Gain", side, step): Found("Gain", raw) for side, raw in [("left", 0.5), ("right", right)]}

    text = "inserts: [{name: a, plugin: P, channels: left/right}]\nvary: {a.Gain: {from dialled: [1 dB]}}\n"
    setups = made(text, raws)
    settings = setups.heard(0, 0, (0,)).setup.settings
    assert [(s.name, s.side, s.raw) for s in settings] == expected
    assert all(isinstance(s.value, Travel) and s.value.fraction == s.raw for s in settings)


def test_a_step_of_a_trim_starts_from_the_stages_own(made):
    setups = made("""
inserts: [{name: a, plugin: P, input trim: -2 dB, output trim: 5 dB}]
vary: {a.input trim: {from dialled: [0.5 dB]}, a.output trim: {from dialled: [-1 dB]}}
""")
    assert [(s.name, s.value.value) for s in setups.heard(0, 0, (0, 0)).setup.settings] == [
        ("input trim", -1.5), ("output trim", 4.0)]  # fmt: skip


def test_a_bus_that_is_off_is_bypassed_whole_and_nothing_of_it_is_varied(made):
    setups = made("""
inserts: [{name: a, plugin: A}]
buses: [{name: lift, level: -6 dB, inserts: [{name: b, plugin: B}]}]
vary: {lift.bypass: [on, off], b.Gain: [1, 2]}
""")
    off, on = ([setups.heard(stage, 0, (value, 1)) for stage in range(3)] for value in (0, 1))
    assert [one.setup.bypass for one in without_buses_off(off)] == [False, True, True]
    assert [one.sound is None for one in without_buses_off(off)] == [False, True, True]
    assert [one.axes for one in without_buses_off(off)] == [frozenset(), frozenset(), {0}]
    assert without_buses_off(on) == on
    assert (on[2].setup.output_trim_db, on[2].setup.is_fader, on[1].setup.bus) == (-6.0, True, "lift")


def test_a_ride_is_of_the_control_behind_the_handle_and_towards_more_of_it(made):
    setups = made("""
inserts: [{name: a, plugin: A, drive: lower Threshold}]
rides: [{name: up, set: a.drive, by: 3 dB, in: ["0:01-0:02"]}]
vary: {rides.up.by: [3 dB, 5 dB]}
""")
    (ride,) = setups.heard(0, 0, (1,)).setup.rides
    assert (ride.setting, ride.amount.value, ride.relative, ride.spans_s) == ("Threshold", -5.0, True, ())
    assert setups.heard(0, 0, (0,)).sound != setups.heard(0, 0, (1,)).sound


RANGE = """
inserts: [{name: a, plugin: A, settings: {GAIN: 1 dB}}]
vary: {a.gain: {from: 1 dB, to: 9 dB}}
prefer: [crest highest]
explore: {variants: 2}
"""


def test_a_value_of_a_range_is_left_to_the_plugin_under_its_own_name(made):
    setups = made(RANGE, lambda chain: {(("a", ""), "gain", "", chain.vary[0].values[0]): Found("Gain", 0.1)})
    heard = Setups.heard(setups, 0, 0, (Number(2.5, "dB", "2.5 dB", True),))
    assert told(heard) == [("Gain", "", "2.5 dB", None)]


def test_a_step_of_a_range_is_a_position(made):
    setups = made(RANGE, lambda chain: {(("a", ""), "gain", "", chain.vary[0].values[0]): Found("Gain", 0.1)})
    heard = Setups.heard(setups, 0, 0, (Travel(0.25, "2.5 dB"),))
    assert told(heard) == [("Gain", "", "2.5 dB", 0.25)]
