"""Variants of mixes with settings of their own: what each has, how they are numbered, what plugins are asked."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweeper.audio import AudioFormat
from sweeper.chain import load_chain
from sweeper.chain.model import Number, SettingRef
from sweeper.host.question import Answer, Fault, Found
from sweeper.plan.examined import Examined
from sweeper.plan.lacking import Lacking
from sweeper.plan.own_checks import beyond
from sweeper.plan.own_words import own_in_words
from sweeper.plan.questions import questions
from sweeper.plan.teachers import main_variants
from sweeper.plan.tree import Facts, variant_key
from sweeper.plan.variants import variants

CHAIN = """mixes:
  - a.wav
  - file: b.wav
    settings: {{{own}}}
    {more}
  - {{file: c.wav, settings from: b.wav}}
  - d.wav
album: each to target
inserts:
  - {{name: tone, plugin: EQ, channels: mid/side, settings: {{Gain: 2 dB}}}}
  - {{name: glue, plugin: Comp, settings: {{{glue}}}, drive: lower Threshold}}
  - {{name: colour, any of: [{{plugin: Valve}}, {{plugin: Iron}}]}}
buses: [{{name: lift, level: -12 dB, inserts: [{{name: air, plugin: EQ}}]}}]
output: [{{name: limiter, plugin: Brick, drive: raise Input}}]
vary: {{glue.Attack: [5 ms, 9 ms], limiter.Release: [20 ms, 90 ms]}}
reach: [{{loudness: -12 LUFS, by: limiter.drive}}]
"""
RATIO = (("glue", ""), "Ratio", "", Number(3.0, "", "3"))


@pytest.fixture
def load(tmp_path: Path):
    for name in "abcd":
        (tmp_path / f"{name}.wav").write_bytes(b"")

    def loaded(own: str = "", more: str = "", glue: str = "Ratio: 2"):
        (tmp_path / "c.yaml").write_text(CHAIN.format(own=own, more=more, glue=glue))
        return load_chain(tmp_path / "c.yaml")

    return loaded


def found_of(chain, **more):
    paths = {(one.name, one.label): one.plugin for stage in chain.stages for one in stage.choices}
    return variants(chain, Examined(paths, **more))


def of_mix(found, mix: int):
    return [variant for variant in found if variant.mix == mix]


def test_where_all_have_as_many_variants_the_numbers_are_what_they_were(load):
    plain, own = (found_of(load(text)) for text in ("", "glue.Ratio: 3"))
    assert [(v.id, v.mix, v.place, v.varied) for v in own] == [(v.id, v.mix, v.place, v.varied) for v in plain]
    assert [v.id for v in of_mix(own, 1)] == [f"{8 + number:03d}" for number in range(1, 9)]
    assert all(v.own == () for v in plain)


def test_what_a_mix_does_not_hear_is_not_varied_in_it_and_the_numbers_run_on(load):
    found = found_of(load("glue.bypass: on"))
    assert [len(of_mix(found, mix)) for mix in range(4)] == [8, 4, 4, 8]
    assert [v.id for v in found] == [f"{number:03d}" for number in range(1, 25)]
    assert all("glue.Attack" not in v.varied for v in (*of_mix(found, 1), *of_mix(found, 2)))
    assert all("glue.Attack" in v.varied for v in of_mix(found, 3))
    assert main_variants(found)["013"] == "009"


def test_each_mix_has_its_own_and_an_alternate_its_mains(load):
    found = found_of(load("glue.Ratio: 3, tone.mid.Gain: 1 dB, lift.level: -15 dB, limiter.output trim: 1 dB"))
    told = [{own.name: own.text for own in of_mix(found, mix)[0].own} for mix in range(4)]
    common = {"glue.Ratio": "2", "tone.mid.Gain": "2 dB", "lift.level": "-12 dB", "limiter.output trim": "0 dB"}
    own = {"glue.Ratio": "3", "tone.mid.Gain": "1 dB", "lift.level": "-15 dB", "limiter.output trim": "1 dB"}
    assert told == [common, own, own, common]
    tone, glue, _, _, lift, limiter = of_mix(found, 2)[0].stages
    assert [(one.side, one.value.text) for one in tone.settings] == [("mid", "1 dB"), ("side", "2 dB")]
    assert (glue.settings[0].value.text, lift.output_trim_db, limiter.output_trim_db) == ("3", -15.0, 1.0)
    assert of_mix(found, 3)[0].stages == of_mix(found, 0)[0].stages


def test_what_the_file_leaves_alone_is_told_as_it_is_dialled_and_what_is_not_heard_is_not_told(load):
    found = found_of(load("glue.Mode: Soft, air.Gain: 1 dB, lift.bypass: off"))
    assert [(one.name, one.text) for one in of_mix(found, 0)[0].own] == [
        ("glue.Mode", "as dialled"), ("air.Gain", "as dialled"), ("lift.bypass", "off")]  # fmt: skip
    silent = found_of(load("glue.Mode: Soft, lift.bypass: on"))
    assert [(one.name, one.text) for one in of_mix(silent, 1)[0].own] == [("glue.Mode", "Soft"), ("lift.bypass", "on")]


def test_a_step_is_the_one_that_the_same_setting_makes_where_the_stage_itself_says_it(load):
    """So what an earlier run left in the store is found, though the file said it elsewhere."""
    facts = Facts(("a", "b", "c", "d"), {"EQ": "1", "Comp": "2", "Valve": "3", "Iron": "4", "Brick": "5"}, {}, 1024, 1)
    looked_up = {RATIO: Found("Ratio", 0.25)}
    own, said = (found_of(chain, found=looked_up) for chain in (load("glue.Ratio: 3"), load(glue="Ratio: 3")))
    for mix, same in ((1, True), (2, True), (0, False)):
        keys = [[variant_key(v, facts) for v in of_mix(found, mix)] for found in (own, said)]
        assert (keys[0] == keys[1]) is same


def test_an_alternative_that_lacks_a_mixs_setting_stands_without_it(load):
    ref, iron = SettingRef("colour", "Warmth", ""), ("colour", "Iron")
    found = of_mix(found_of(load("colour.Warmth: 3"), lacking=frozenset({(iron, ref)})), 1)
    assert {v.stages[2].label: [one.name for one in v.stages[2].settings] for v in found} == {
        "Valve": ["Warmth"], "Iron": []}  # fmt: skip
    assert {v.stages[2].label: [one.text for one in v.own] for v in found} == {"Valve": ["3"], "Iron": []}


def asked_of(chain, stage: str, missing: tuple[str, ...] = ()):
    """The questions about a stage, and what is made of answers that lack the setting for these alternatives."""
    paths = {(one.name, one.label): one.plugin for each in chain.stages for one in each.choices}
    placed = [one for one in questions(chain, paths, [AudioFormat(2, 44100)], 1024, 60.0) if one.choice.name == stage]
    answered = []
    for one in placed:
        faults = tuple(Fault(number, "no setting is called so", "", missing=True)
                       for number, asked in enumerate(one.question.asked) if asked.name == "Warmth")  # fmt: skip
        answered.append((one, Answer(None, faults if one.choice.label in missing else ())))
    return placed, Lacking(chain, answered)


def test_plugins_are_asked_for_what_a_mix_has_of_its_own_at_its_line(load):
    (glue,), _ = asked_of(load("glue.Ratio: 3, glue.Mode: Soft, glue.input trim: 3 dB, glue.bypass: off"), "glue")
    own = [(asked.name, asked.value.text, reason.mark.line, reason.mix)
           for asked, reason in zip(glue.question.asked, glue.reasons, strict=True) if reason.mix]  # fmt: skip
    assert own == [("Ratio", "3", 4, "b.wav"), ("Mode", "Soft", 4, "b.wav"), ("input trim", "3 dB", 4, "b.wav")]
    (tone,), _ = asked_of(load("tone.mid.Gain: 1 dB"), "tone")
    assert ("Gain", "side", "2 dB") in [(one.name, one.side, one.value.text) for one in tone.question.asked]
    assert all(one.question.asked for one in asked_of(load("glue.Ratio: 3"), "glue")[0])
    assert not asked_of(load("glue.Ratio: 3"), "air")[0][0].question.asked


def test_what_some_alternatives_lack_is_said_and_what_all_lack_is_a_fault_at_the_mixs_line(load):
    _, some = asked_of(load("colour.Warmth: 3"), "colour", ("Iron",))
    assert some.warnings == ("'colour.Warmth' is set for b.wav where it exists: 'Iron' has no such setting",)
    assert (some.problems, {str(ref) for _, ref in some.settings}) == ([], {"colour.Warmth"})
    _, every = asked_of(load("colour.Warmth: 3"), "colour", ("Iron", "Valve"))
    assert {one.line for one in every.problems} == {4}


@pytest.mark.parametrize(
    ("own", "what"),
    [("lift.level: 21 dB", "'lift.level' cannot be 21 dB"), ("glue.input trim: -70 dB", "cannot be -70 dB")],
)
def test_what_leads_out_of_a_range_is_told_at_the_mixs_line(load, own, what):
    (problem,) = beyond(load(own))
    assert what in problem.what
    assert problem.line == 4


def test_a_ride_is_counted_from_where_each_mix_has_its_setting(load, tmp_path):
    load("lift.level: 15 dB")
    text = (tmp_path / "c.yaml").read_text()
    (tmp_path / "c.yaml").write_text(text + 'rides: [{name: up, set: lift.level, by: 6 dB, in: ["0:01-0:02"]}]\n')
    (problem,) = beyond(load_chain(tmp_path / "c.yaml"))
    assert problem.what == "'lift.level' is dialled at 15 dB and would come to 21 dB"


def test_what_mixes_have_of_their_own_is_told_in_words(load):
    chain = load("glue.Ratio: 3, lift.level: -15 dB", "reach: {loudness: -14 LUFS}\n    limits: [crest >= 10 dB]")
    assert own_in_words(chain) == (
        "b.wav has of its own: glue.Ratio 3, lift.level -15 dB; loudness -14 LUFS; crest >= 10 dB",)  # fmt: skip
    assert own_in_words(load()) == ()
