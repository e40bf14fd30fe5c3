"""Buses: their stages, their levels, and their names among those of the stages."""

from __future__ import annotations

import pytest

from sweeper.chain import FromDialled, Handle, Mark, Number, SettingRef

BASE = "mix: a.wav\noutput:\n  - {name: limiter, plugin: Brick, drive: raise Input}\n"
EXAMPLE = "write e.g. {name: lift, level: -12 dB, inserts: [{plugin: NAME}]}"
LIFT = """\
inserts: [{name: glue, plugin: A}]
buses:
  - name: Lift
    level: -12 dB
    inserts:
      - {name: comp, plugin: C, blend: 60 %}
      - {name: dirt, any of: [{plugin: D}, {plugin: E}]}
  - {name: air, inserts: {plugin: Exciter}, bypass: on}
"""


def test_the_stages_of_every_bus_end_with_its_fader(load):
    chain = load(BASE + LIFT)
    assert [(s.name, s.plugin, s.bus, s.is_fader, s.output_trim_db, s.bypass) for s in chain.buses] == [
        ("comp", "C", "Lift", False, 0, False), ("dirt", "", "Lift", False, 0, False),
        ("Lift", "", "Lift", True, -12, False),
        ("exciter", "Exciter", "air", False, 0, False), ("air", "", "air", True, 0, True)]  # fmt: skip
    assert [s.name for s in chain.stages] == ["glue", "comp", "dirt", "Lift", "exciter", "air", "limiter"]
    assert [choice.bus for choice in chain.buses[1].choices] == ["Lift", "Lift"]
    assert chain.buses[0].blend == 0.6
    assert not any(s.output for s in chain.buses)


def test_a_level_is_a_handle_of_the_fader(load):
    lift = load(BASE + LIFT).buses[2]
    assert lift.handles == (Handle("level", "raise", "output trim", Mark(7, 5)),)
    assert (lift.mark, lift.choices) == (Mark(6, 11), (lift,))


@pytest.mark.parametrize(("written", "level_db"), [("-60 dB", -60), ("20 dB", 20), ("-3", -3), ("−6 dB", -6)])
def test_levels(load, written, level_db):
    buses = load(BASE + f"buses: {{name: b, level: {written}, inserts: [{{plugin: P}}]}}\n").buses
    assert buses[-1].output_trim_db == level_db


def test_level_and_bypass_are_varied_and_solved(load):
    chain = load(BASE + LIFT + "vary:\n  lift.Level: {from dialled: [-3 dB, 0 dB]}\n  air.bypass: [on, off]\n"
                 "  dirt.X: [1]\nreach: {loudness: -9 LUFS, by: comp.drive it}\n")  # fmt: skip
    assert [axis.ref for axis in chain.vary] == [
        SettingRef("Lift", "level", ""), SettingRef("air", "bypass", ""), SettingRef("dirt", "X", "")]  # fmt: skip
    assert chain.vary[0].values[0] == FromDialled(Number(-3, "dB", "-3 dB"), "dialled -3 dB")
    assert str(load(BASE + LIFT + "reach: {loudness: -9 LUFS, by: LIFT.level}\n").reach[0].by) == "Lift.level"


def test_a_chain_may_be_buses_alone(load):
    chain = load("mix: a.wav\nbuses: [{name: b, inserts: [{plugin: P}]}]\n")
    assert (chain.inserts, [stage.name for stage in chain.buses], chain.output) == ((), ["p", "b"], ())


def test_alternatives_on_a_bus_are_counted(problems):
    many = ", ".join(f"{{plugin: P{number}}}" for number in range(300))
    text = f"buses: [{{name: b, inserts: [{{name: x, any of: [{many}]}}, {{name: y, any of: [{many}]}}]}}]\n"
    assert [p.what for p in problems(BASE + text + "vary: {b.level: [0 dB, 1 dB]}\n")] == [
        "this asks for 180000 variants"]  # fmt: skip


def bus(written: str) -> str:
    return f"buses: [{{name: b, {written}}}]"


ON = "inserts: [{plugin: P}]"
# What is added as line 4 to a good file, where, what, remedy.
ADDED = [
    ("buses: lift", "4:8", "a bus is a single value, not a mapping", EXAMPLE),
    ("buses: [{inserts: [{plugin: P}]}]", "4:9", "this bus has no name", "add e.g. name: lift"),
    ("buses: [{name: [x], inserts: [{plugin: P}]}]", "4:16", "name is a list, not a single value", "write one value"),
    ("buses: [{name: b}]", "4:9", "this bus has no inserts",
     "add inserts: [{plugin: NAME}]; without any it would only be more of the same"),
    (bus("inserts: []"), "4:19", "this bus has no inserts",
     "add inserts: [{plugin: NAME}]; without any it would only be more of the same"),
    (bus(ON + ", levl: 1 dB"), "4:43", "unknown key 'levl' in a bus", "did you mean 'level'?"),
    (bus(ON + ", level: 21 dB"), "4:50", "level of 21 dB is beyond reason", "write -60 dB to 20 dB"),
    (bus(ON + ", level: -61 dB"), "4:50", "level of -61 dB is beyond reason", "write -60 dB to 20 dB"),
    (bus(ON + ", level: loud"), "4:50", "level is 'loud', not a number", "write a number in dB"),
    (bus(ON + ", level: 3 ms"), "4:50", "'3 ms' is in ms, level is in dB", "write a number in dB"),
    (bus(ON + ", bypass: maybe"), "4:51", "bypass is 'maybe'", "write on or off"),
    (bus("inserts: [{plugin: P, blend: 2}]"), "4:48", "blend is '2'", "write 0 % to 100 %, e.g. 70 %"),
    ("buses: [{name: Limiter, inserts: [{plugin: P}]}]", "3:12", "two stages are called 'limiter'; first on line 4",
     "give one of them another 'name:'"),
    ("buses: [{name: p, inserts: [{plugin: P}]}]", "4:16", "two stages are called 'p'; first on line 4",
     "give one of them another 'name:'"),
    ("buses: [{name: a.b, inserts: [{plugin: P}]}]", "4:16", "the bus's name 'a.b' has a dot in it",
     "write it without dots"),
    ("buses: [{name: Rides, inserts: [{plugin: P}]}]", "4:16", "the bus's name is 'Rides', which means the rides",
     "give it another 'name:'"),
    ("inserts: [{name: rides, plugin: P}]", "4:18", "the stage's name is 'rides', which means the rides",
     "give it another 'name:'"),
    (bus(ON) + "\nvary: {b.input trim: [1 dB]}", "5:8", "the bus 'b' has no 'input trim'",
     "write b.level or b.bypass, or name a stage on it"),
    (bus(ON) + "\nvary: {b.blend: [50 %]}", "5:8", "the bus 'b' has no 'blend'",
     "write b.level or b.bypass, or name a stage on it"),
    (bus(ON) + "\nvary: {b.Ratio: [1]}", "5:8", "the bus 'b' has no 'Ratio'",
     "write b.level or b.bypass, or name a stage on it"),
    (bus(ON) + "\nvary: {b.level: [50 %]}", "5:17", "'b.level' takes values in dB only", "write e.g. [0 dB, 3 dB]"),
    (bus(ON) + "\nvary: {b.level: [1 dB]}\nreach: {loudness: -9 LUFS, by: b.level}", "6:32",
     "'b.level' is solved here and varied on line 5", "take it out of 'vary', or solve another setting"),
    (bus(ON + ", bypass: on") + "\nvary: {b.level: [1 dB]}", "5:8", "'b' is bypassed, so 'b.level' changes nothing",
     "take this out, or 'bypass' out of 'b'"),
    (bus(ON + ", bypass: on") + "\nvary: {p.X: [1]}", "5:8", "'b' is bypassed, so 'p.X' changes nothing",
     "take this out, or 'bypass' out of 'b'"),
    (bus(ON + ", bypass: on") + "\nvary: {p.bypass: [on, off]}", "5:8",
     "'b' is bypassed, so 'p.bypass' changes nothing", "take this out, or 'bypass' out of 'b'"),
    (bus(ON + ", bypass: on") + "\nreach: {loudness: -9 LUFS, by: p.X}", "5:32",
     "'b' is bypassed, so 'p.X' changes nothing", "take 'bypass' out of 'b', or solve another setting"),
    ("inserts: [{name: g, plugin: G}]\n" + bus(ON) + "\nvary: {sequence: [[p]]}", "6:20",
     "'p' stands on a bus and does not move", "name inserts; inserts here: g"),
    ("inserts: [{name: g, plugin: G}]\n" + bus(ON) + "\nvary: {sequence: [[b]]}", "6:20",
     "'b' is a bus and does not move", "name inserts; inserts here: g"),
]  # fmt: skip


@pytest.mark.parametrize(("added", "place", "what", "remedy"), ADDED, ids=[row[0] for row in ADDED])
def test_a_fault_is_told_alone_at_its_place_with_a_remedy(problems, added, place, what, remedy):
    found = [(f"{p.line}:{p.column}", p.what, p.remedy) for p in problems(BASE + added + "\n")]
    assert found == [(place, what, remedy)]
