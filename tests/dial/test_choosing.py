"""What of a chain it takes to hear one stage, and what the window does not decide."""

from __future__ import annotations

import pytest

from sweeper.chain import load_chain
from sweeper.dial.choosing import chosen, decided_elsewhere, narrowed, split
from sweeper.errors import ChainFileError, PluginError
from sweeper.plan.examined import Examined
from sweeper.plan.variants import variants

TEXT = """
mixes:
  - {file: mix.wav, sections: {end: "0:01-0:02"}}
  - other.wav
album: each to target
inserts:
  - {name: eq, plugin: EQ, channels: mid/side, settings: {mid: {Low: 1 dB}, side: {High: 2 dB}}}
  - {name: low, plugin: EQ, bypass: on}
  - {name: colour, any of: [{plugin: Valve, settings: {Drive: 1}}, {plugin: Iron, name: iron},
                            {plugin: Valve, name: b}]}
  - {name: glue, plugin: Comp, drive: lower Threshold, settings: {Ratio: 2, Attack: 5 ms, Knee: 1 dB}}
  - {name: tape, outside: the machine}
buses:
  - {name: lift, level: -12 dB, inserts: [{name: lift-eq, plugin: EQ}, {name: lift-comp, plugin: Comp}]}
  - {name: room, level: -9 dB, inserts: [{name: verb, plugin: Verb}]}
output:
  - {name: last, plugin: "builtin:Gain"}
  - {name: limiter, plugin: Limit, drive: raise Input}
  - {name: after, plugin: EQ}
rides:
  - {name: push, set: glue.Knee, by: 1 dB, in: ["0:01-0:02"]}
vary:
  glue.Attack: [5 ms, 9 ms]
  glue.Ratio: {from dialled: [1, 2]}
  eq.mid.Low: [3 dB, 4 dB]
  limiter.Release: [1 ms, 2 ms]
  sequence: [[glue, colour], [colour], [colour, glue]]
reach: [{loudness: -12 LUFS, by: limiter.drive}]
limits: [crest >= 8 dB]
"""


@pytest.fixture
def chain(tmp_path):
    for name in ("mix.wav", "other.wav"):
        (tmp_path / name).write_bytes(b"")
    return load_chain(tmp_path / "t.chain.yaml", TEXT)


def stages_of(chain, stage, alternative=None):
    """Names of what is before it, the stage itself, and the notes."""
    picked = chosen(chain, stage, alternative, None)
    small = narrowed(picked)
    paths = {(choice.name, choice.label): choice.plugin for each in small.stages for choice in each.choices}
    before, own, notes = split(picked, variants(small, Examined(paths)))
    return [setup.name for setup in before], own, notes


def test_an_insert_gets_what_stands_before_it_in_the_first_order_that_has_it(chain):
    before, own, notes = stages_of(chain, "glue")
    assert before == ["eq", "low"]
    assert (own.name, own.rides) == ("glue", ())
    assert notes == ("the rides of 'glue' rest while it is dialled",)
    assert [(s.name, s.value.text) for s in own.settings] == [("Ratio", "2"), ("Knee", "1 dB"), ("Attack", "5 ms")]


def test_of_the_alternatives_the_one_that_was_named(chain):
    before, own, _ = stages_of(chain, "Colour", "B")
    assert (before, own.path, own.label, own.settings) == (["eq", "low", "glue"], "Valve", "b", ())
    assert stages_of(chain, "colour", "valve")[1].settings[0].name == "Drive"


def test_a_bypassed_stage_is_heard_and_that_is_said(chain):
    before, own, notes = stages_of(chain, "low")
    assert (before, own.bypass, notes) == (["eq"], False, ("'low' is bypassed in the chain file",))


def test_a_bypassed_stage_is_found_where_leaving_it_out_sounds_the_same(chain, tmp_path):
    text = ("mix: mix.wav\ninserts: [{name: a, plugin: A}, {name: b, plugin: B, bypass: on}]\n"
            "vary: {sequence: [[a], [b, a]]}\n")  # fmt: skip
    assert stages_of(load_chain(tmp_path / "t.yaml", text), "b")[0] == []


def test_of_two_alternatives_that_are_alike_the_one_that_was_named(chain, tmp_path):
    text = "mix: mix.wav\ninserts: [{name: a, any of: [{plugin: A, name: one}, {plugin: A, name: two}]}]\n"
    assert stages_of(load_chain(tmp_path / "t.yaml", text), "a", "two")[1].label == "two"


def test_a_stage_on_a_bus_gets_what_the_bus_makes_of_the_last_insert(chain):
    before, own, notes = stages_of(chain, "lift-comp")
    assert before == ["eq", "low", "glue", "colour", "lift-eq"]
    assert own.bus == ""
    assert stages_of(chain, "verb")[0] == ["eq", "low", "glue", "colour"]
    assert notes == ("'tape' is outside: the loop goes on without it",)


def test_an_output_stage_gets_the_buses_too(chain):
    before, own, _ = stages_of(chain, "limiter")
    assert before == ["eq", "low", "glue", "colour", "lift-eq", "lift-comp", "lift", "verb", "room", "last"]
    assert [(s.name, s.value.text) for s in own.settings] == [("Release", "1 ms")]


def test_what_the_window_does_not_decide(chain):
    assert decided_elsewhere(chosen(chain, "glue", None, None)) == {"Attack": "varied"}
    assert decided_elsewhere(chosen(chain, "limiter", None, None)) == {"Release": "varied", "Input": "solved"}
    assert decided_elsewhere(chosen(chain, "eq", None, None)) == {"Low": "varied"}


def test_only_the_dialled_sides_settings_are_its_own(chain):
    picked = chosen(chain, "eq", None, None)
    assert (picked.side, [a.name for a in picked.own_settings]) == ("mid", ["Low"])


@pytest.mark.parametrize(("named", "file"), [(None, "mix.wav"), ("2", "other.wav"), ("other.wav", "other.wav")])
def test_mixes_go_by_number_or_name(chain, named, file):
    picked = chosen(chain, "glue", None, named)
    assert picked.mix.file.name == file
    assert narrowed(picked).mixes == (picked.mix,)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [(("glu", None, None), "no stage is called 'glu'\n    did you mean 'glue'?"),
     (("colour", None, None), "'colour' has alternatives\n    say which, --alternative: Valve, iron, b"),
     (("colour", "irn", None), "no alternative called 'irn'\n    did you mean 'iron'?"),
     (("glue", "x", None), "'glue' has no alternatives"),
     (("glue", None, "3"), "no mix is called '3'\n    known here: mix.wav, other.wav")],
)  # fmt: skip
def test_wrong_names_are_answered_with_the_right_ones(chain, arguments, words):
    with pytest.raises(ChainFileError) as refused:
        chosen(chain, *arguments)
    assert words in str(refused.value)


@pytest.mark.parametrize(("stage", "words"), [("lift", "no plugin"), ("tape", "no plugin"), ("last", "gain db")])
def test_what_has_no_window_is_refused(chain, stage, words):
    with pytest.raises(PluginError) as refused:
        chosen(chain, stage, None, None)
    assert words in str(refused.value)
    assert refused.value.exit_code == 4


def test_what_a_mix_has_of_its_own_is_heard_before_the_dialled_stage_and_not_in_it(chain, tmp_path):
    own = "{file: other.wav, settings: {eq.side.High: 5 dB, low.bypass: off, glue.Knee: 4 dB}}"
    chain = load_chain(tmp_path / "t.chain.yaml", TEXT.replace("  - other.wav", f"  - {own}"))
    for mix, high, low_off, note in (("1", "2 dB", True, ""), ("2", "5 dB", False, "glue.Knee")):
        picked = chosen(chain, "glue", None, mix)
        small = narrowed(picked)
        paths = {(choice.name, choice.label): choice.plugin for each in small.stages for choice in each.choices}
        before, glue, notes = split(picked, variants(small, Examined(paths)))
        assert [one.value.text for one in before[0].settings if one.name == "High"] == [high]
        assert [one.value.text for one in glue.settings if one.name == "Knee"] == ["1 dB"]
        assert before[1].bypass is low_off
        assert ([words for words in notes if words.startswith("glue.Knee")] != []) is bool(note)
    assert "other.wav keeps its own" in notes[-1]
