"""A stage outside the machine, and what may not stand before it."""

from __future__ import annotations

import pytest

from sweeper.chain import Mark, Switch

KEEP_ONE = "keep one of the two"
BASE = "mix: a.wav\noutput:\n  - {name: limiter, plugin: Brick, drive: raise Input}\n"
TAPE = BASE + ("inserts:\n  - {name: glue, plugin: G}\n  - {name: tape, outside: the tape machine}\n"
               "  - {name: air, plugin: E}\n")  # fmt: skip
BESIDE = ("take it out; beside 'outside' may stand: name, outside, returned, input trim, output trim, polarity, "
          "bypass, tail")  # fmt: skip


def test_it_is_words_trims_a_tail_and_where_to_look(load, folder):
    stage = load(BASE + "inserts: [{outside: The tape machine, returned: from tape, input trim: -3 dB, "
                 "output trim: 3 dB, tail: 1 s, bypass: on}]\n").inserts[0]  # fmt: skip
    assert (stage.name, stage.plugin, stage.outside) == ("the tape machine", "", "The tape machine")
    assert stage.returned == folder / "from tape"
    assert (stage.input_trim_db, stage.output_trim_db, stage.tail_s, stage.bypass) == (-3, 3, 1, True)
    assert stage.plugin_mark == Mark(4, 21)


def test_its_bypass_can_be_varied(load):
    (axis,) = load(TAPE + "vary: {tape.bypass: [off, on]}\n").vary
    assert (str(axis.ref), axis.values) == ("tape.bypass", (Switch(False, "off"), Switch(True, "on")))


@pytest.mark.parametrize("by", ["air.X", "limiter.drive"])
def test_what_stands_behind_it_can_be_solved(load, by):
    assert str(load(TAPE + f"reach: {{loudness: -9 LUFS, by: {by}}}\n").reach[0].by) == by


def test_what_stands_before_it_can_be_solved_where_it_is_bypassed(load):
    bypassed = TAPE.replace("tape machine}", "tape machine, bypass: on}")
    assert str(load(bypassed + "reach: {loudness: -9 LUFS, by: glue.X}\n").reach[0].by) == "glue.X"


def test_a_bus_stands_beside_it(load):
    bus = "buses: [{name: lift, inserts: [{name: comp, plugin: C}]}]\n"
    chain = load(TAPE + bus + "reach: [{loudness: -9 LUFS, by: lift.level}, {crest: 9 dB, by: comp.X}]\n")
    assert [str(reach.by) for reach in chain.reach] == ["lift.level", "comp.X"]


SOLVED = "'{by}' stands before 'tape', which is outside: every pass would have to be sent out"
SEQUENCED = TAPE.replace("{name: air, plugin: E}", "{name: air, plugin: E}\nvary: {sequence: ORDERS}")


@pytest.mark.parametrize(
    ("text", "by"),
    [
        (TAPE, "glue.X"),
        (TAPE, "glue.output trim"),
        (TAPE.replace("tape machine}", "tape machine, bypass: on}") + "vary: {tape.bypass: [on, off]}\n", "glue.X"),
        (TAPE + "rides: [{name: r, set: glue.X, by: 1, in: 0:00-0:10}]\n", "rides.r.by"),
        (SEQUENCED.replace("ORDERS", "[[glue, air], [air, glue]]"), "air.X"),
        (SEQUENCED.replace("ORDERS", "[[glue], [air]]"), "air.X"),
        (BASE.replace("output:", "output:\n  - {name: drive, plugin: D}\n  - {name: tape, outside: t}")
         + "buses: [{name: lift, inserts: [{name: comp, plugin: C}]}]\n", "lift.level"),
        (BASE.replace("output:", "output:\n  - {name: drive, plugin: D}\n  - {name: tape, outside: t}"), "drive.X"),
    ],
)  # fmt: skip
def test_what_is_sent_out_is_not_solved(problems, text, by):
    (problem,) = problems(text + f"reach: {{loudness: -9 LUFS, by: {by}}}\n")
    assert (problem.what, problem.remedy) == (SOLVED.format(by=by), "solve a setting behind 'tape'")
    assert (problem.line, problem.column) == (text.count("\n") + 1, 32)


def test_an_order_that_keeps_it_behind_can_be_solved(load):
    assert load(SEQUENCED.replace("ORDERS", "[[glue, air]]") + "reach: {loudness: -9 LUFS, by: air.X}\n").reach


# What is added as line 4 to a good file, where, what, remedy.
ADDED = [
    ("inserts: [{name: t, outside: [a]}]", "4:30", "outside is a list, not a single value",
     "write what it is, e.g. outside: the tape machine"),
    ("inserts: [{outside: Mr. Tape}]", "4:11", "the stage's name 'mr. tape' has a dot in it",
     "add a 'name:' without dots"),
    ("inserts: [{name: t, outside: x, returned: nowhere}]", "4:43", "there is no folder 'nowhere'",
     "make it; paths start from the chain file's folder"),
    ("inserts: [{name: t, outside: x, returned: a.wav}]", "4:43", "'a.wav' is a file, not a folder",
     "name the folder it is in"),
    ("inserts: [{name: t, outside: x, returned: ~nobody-of-that-name/x}]", "4:43",
     "there is no folder '~nobody-of-that-name/x'", "make it; paths start from the chain file's folder"),
    ("inserts: [{name: t, plugin: A, returned: from tape}]", "4:32", "'returned' stands without 'outside'",
     "take it out, or write what it is, e.g. outside: the tape machine"),
    *((f"inserts: [{{name: t, outside: x, {key}: {value}}}]", "4:33", f"'{key}' stands beside 'outside'", KEEP_ONE)
      for key, value in (("plugin", "A"), ("any of", "[{plugin: A}]"))),
    *((f"inserts: [{{name: t, outside: x, {key}: {value}}}]", "4:33",
       f"'{key}' stands beside 'outside', where no plugin is", BESIDE)
      for key, value in (("state", "a.wav"), ("channels", "mid"), ("settings", "{X: 1}"), ("blend", "70 %"),
                         ("drive", "raise X"), ("ceiling", "X"), ("latency", "1 ms"), ("instances", "1"))),
    ("inserts: [{name: c, any of: [{outside: x}, {plugin: B}]}]", "4:31", "'outside' stands inside 'any of'",
     "give what stands outside a stage of its own; its bypass can be varied"),
    ("buses: [{name: lift, inserts: [{name: t, outside: x}]}]", "4:42", "'outside' stands on a bus",
     "move the stage to 'inserts' or 'output'"),
    ("inserts: [{name: t, outside: x}]\nvary: {t.output trim: [0 dB, 1 dB]}", "5:8",
     "'t' stands outside, where nothing turns its 'output trim'",
     "write t.bypass, or name a setting of another stage"),
    ("inserts: [{name: t, outside: x}]\nvary: {t.Bias: [1]}", "5:8",
     "'t' stands outside, where nothing turns its 'Bias'", "write t.bypass, or name a setting of another stage"),
    ("inserts: [{name: t, outside: x}]\nrides: {name: r, set: t.blend, to: 5 %, in: 0:00-0:10}", "5:23",
     "'t' stands outside, where nothing turns its 'blend'", "write t.bypass, or name a setting of another stage"),
    ("inserts: [{name: t, outside: x}, {name: g, plugin: A}]\nvary: {sequence: [[t]]}", "5:20",
     "'t' stands outside and does not move", "name inserts; inserts here: g"),
]  # fmt: skip


@pytest.mark.parametrize(("added", "place", "what", "remedy"), ADDED, ids=[row[0] for row in ADDED])
def test_a_fault_is_told_alone_at_its_place_with_a_remedy(problems, added, place, what, remedy):
    found = [(f"{p.line}:{p.column}", p.what, p.remedy) for p in problems(BASE + added + "\n")]
    assert found == [(place, what, remedy)]
