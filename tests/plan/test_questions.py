"""What plugins are asked about a chain file, and where in it their answers belong."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweeper.audio import AudioFormat
from sweeper.chain import load_chain
from sweeper.chain.model import FromDialled, SettingRef
from sweeper.host.question import Answer, Fault
from sweeper.plan.questions import lacked, located, problems_of, questions, sides_of

FORMATS = [AudioFormat(2, 44100), AudioFormat(1, 48000)]
TEXT = """mix: a.wav
inserts:
  - {name: glue, plugin: "builtin:Compressor", settings: {ratio: 2}}
  - name: colour
    channels: mid/side
    any of:
      - {plugin: "builtin:Gain", drive: raise gain db, settings: {mid: {gain db: 1 dB}}}
      - {plugin: "builtin:Distortion", drive: lower drive db, input trim: 2 dB}
output: {name: limiter, plugin: "builtin:BrickwallLimiter", drive: raise input trim, ceiling: ceiling db}
vary:
  glue.bypass: [on, off]
  glue.threshold db: [-12 dB, -6 dB]
  colour.drive: {from dialled: [1 dB]}
  colour.side.tone: [3 dB]
reach: [{loudness: -14 LUFS, by: limiter.drive}]
"""


@pytest.fixture
def load(tmp_path: Path):
    (tmp_path / "a.wav").write_bytes(b"")

    def loaded(text: str = TEXT):
        (tmp_path / "c.yaml").write_text(text)
        return load_chain(tmp_path / "c.yaml")

    return loaded


@pytest.fixture
def asked(load):
    """The chain, and the questions by (stage, label) for the first format."""
    chain = load()
    paths, problems = located(chain)
    assert problems == []
    placed = questions(chain, paths, FORMATS, 512, 7.0)
    assert [one.question.format for one in placed] == [FORMATS[0]] * 4 + [FORMATS[1]] * 4
    assert {(one.question.block_frames, one.question.patience_s) for one in placed} == {(512, 7.0)}
    return chain, {(one.choice.name, one.choice.label): one for one in placed[:4]}


def told(placed):
    """(name, side, value as written, line) of everything asked."""
    return [(a.name, a.side, getattr(a.value, "text", None), reason.mark.line)
            for a, reason in zip(placed.question.asked, placed.reasons, strict=True)]  # fmt: skip


def test_every_processor_is_found_by_its_stage_and_label(load):
    paths, _ = located(load())
    assert paths == {("glue", ""): "builtin:Compressor", ("colour", "Gain"): "builtin:Gain",
                     ("colour", "Distortion"): "builtin:Distortion",
                     ("limiter", ""): "builtin:BrickwallLimiter"}  # fmt: skip


def test_plugins_that_are_missing_are_each_a_problem_and_are_not_asked(load):
    chain = load(TEXT.replace("builtin:Gain", "builtin:Gian").replace("builtin:Compressor", "/no/Such.vst3"))
    paths, problems = located(chain)
    assert [(problem.line, problem.file) for problem in problems] == [(3, str(chain.path)), (7, str(chain.path))]
    assert "/no/Such.vst3" in problems[0].what
    assert {one.choice.label or one.choice.name for one in questions(chain, paths, FORMATS[:1], 512, 7.0)} == {
        "Distortion", "limiter"}  # fmt: skip


def test_settings_and_every_varied_value_are_asked_but_a_bypass(asked):
    _, placed = asked
    assert told(placed["glue", ""]) == [("ratio", "", "2", 3), ("threshold db", "", "-12 dB", 12),
                                        ("threshold db", "", "-6 dB", 12)]  # fmt: skip


def test_a_handle_is_asked_as_the_setting_that_it_stands_for_on_every_side_a_step_may_lead_elsewhere(asked):
    _, placed = asked
    step = "dialled +1 dB"
    assert told(placed["colour", "Gain"]) == [
        ("gain db", "mid", "1 dB", 7), ("gain db", "", None, 7), ("gain db", "mid", step, 13),
        ("gain db", "side", step, 13), ("tone", "side", "3 dB", 14)]  # fmt: skip
    (own,) = placed["colour", "Gain"].question.own
    assert (own.name, own.side, own.value.text) == ("gain db", "mid", "1 dB")


def test_a_step_to_more_of_a_handle_that_is_lowered_is_a_step_down(asked):
    _, placed = asked
    steps = {label: [a.value.offset.value for a in placed["colour", label].question.asked
                     if isinstance(a.value, FromDialled)] for label in ("Gain", "Distortion")}  # fmt: skip
    assert steps == {"Gain": [1, 1], "Distortion": [-1, -1]}


def test_what_is_solved_is_asked_without_a_value(asked):
    _, placed = asked
    assert told(placed["limiter", ""]) == [("input trim", "", None, 9), ("ceiling db", "", None, 9),
                                           ("input trim", "", None, 15)]  # fmt: skip


def test_a_trim_has_no_sides_nor_has_a_reference_that_names_one(load):
    chain = load()
    colour = chain.stages[1].choices[0]
    drive, tone = (axis.ref for axis in chain.vary[2:])
    assert sides_of(colour, drive) == ("mid", "side")
    assert sides_of(colour, tone) == ("side",)
    assert sides_of(chain.stages[2], chain.reach[0].by) == ("",)
    assert sides_of(colour, SettingRef("colour", "input trim", "")) == ("",)


def test_faults_stand_where_what_was_asked_stands(asked):
    chain, placed = asked
    answer = Answer(None, (Fault(-1, "would not load", "reinstall it"), Fault(4, "too much", "write less")))
    problems = problems_of(chain, placed["colour", "Gain"], answer)
    assert [(p.line, p.what, p.remedy) for p in problems] == [
        (7, "stage 'colour' (Gain): would not load", "reinstall it"),
        (14, "stage 'colour' (Gain): too much", "write less")]  # fmt: skip


@pytest.mark.parametrize(("written", "remedy"), [
    ("glue.inptu trim: [0 dB, 1 dB]", "did you mean 'input trim'?"),
    ("glue.Tone: [0 dB, 1 dB]", "it has: Release"),
    ("glue.Input: [0 dB, 1 dB]", "it has: Release"),
    ("glue.output  trimm: [0 dB, 1 dB]", "did you mean 'output trim'?"),
    ("glue.drvie: [0 dB, 1 dB]", "did you mean 'drive'?"),
])  # fmt: skip
def test_a_misspelt_setting_of_the_stage_itself_is_known_for_one(load, written, remedy):
    chain = load(f"mix: a.wav\ninserts: [{{name: glue, plugin: Comp, drive: raise Gain}}]\nvary:\n  {written}\n")
    (placed,) = questions(chain, {("glue", ""): "/there"}, FORMATS[:1], 1024, 5.0)
    (told,) = problems_of(chain, placed, Answer(None, (Fault(1, "none so", "it has: Release", missing=True),)))
    assert (told.line, told.remedy) == (4, remedy)


def test_a_varied_setting_that_an_alternative_lacks_is_left_for_later(asked):
    chain, placed = asked
    gain, glue = placed["colour", "Gain"], placed["glue", ""]
    missing = Fault(4, "no setting is called 'tone'", "", missing=True)
    reason = lacked(gain, missing)
    assert reason is not None
    assert str(reason.varied) == "colour.side.tone"
    assert problems_of(chain, gain, Answer(None, (missing,))) == []
    for number in (0, 1, 2):
        assert lacked(gain, Fault(number, "", "", missing=True)) is None, "its own setting, its own handle"
    assert lacked(gain, Fault(-1, "", "", missing=True)) is None
    assert lacked(gain, Fault(4, "", "")) is None
    assert lacked(glue, Fault(1, "", "", missing=True)) is None, "a stage that stands alone has to have it"


def test_of_a_range_without_steps_both_ends_are_asked_and_every_step_of_the_control(load):
    chain = load("""mix: a.wav
inserts: {name: glue, plugin: "builtin:Compressor"}
vary: {glue.ratio: {from: 2, to: 4}, glue.attack ms: [1 ms]}
prefer: [crest highest]
explore: {variants: 2}
""")
    (placed,) = questions(chain, located(chain)[0], FORMATS[:1], 512, 7.0)
    assert [(a.name, a.value.text, a.with_steps) for a in placed.question.asked] == [
        ("ratio", "2", True), ("ratio", "4", True), ("attack ms", "1 ms", False)]  # fmt: skip
