"""Rides: what moves, how far, when; and their amounts as things to vary and to solve."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sweeper.chain import Mark, Number, Ride, SettingRef, Travel
from sweeper.chain.model import Section
from sweeper.chain.ride_times import spans_in

KEEP_ONE = "keep one of the two"
BASE = ('mix: {file: a.wav, sections: {verse: "0:20-0:40", last chorus: "1:00-1:20"}}\n'
        "inserts: [{name: colour, plugin: A, drive: raise Input, channels: mid/side}, "
        "{name: off, plugin: B, bypass: on}]\n"
        "buses: [{name: lift, inserts: [{name: comp, plugin: C}]}]\n")  # fmt: skip
WHEN = "in: last chorus"
EXAMPLE = "write e.g. {name: last-lift, set: colour.drive, by: 5 % travel, in: [last chorus]}"
IN = 'write e.g. in: [last chorus] or in: ["1:00-1:20"]'
RAMP = "write 0 s to 30 s, or ms"


def ride(written: str) -> str:
    return f"rides: [{{name: r, {written}}}]\n"


def test_a_ride_is_in_each_mix_where_its_sections_are(load):
    """Its own times, and those of the sections in that mix; a section that ends before it starts is left out."""
    mix = load(BASE).mixes[0]
    (ride,) = (Ride("up", SettingRef("one", "input trim", ""), Number(3, "dB", "3 dB"), True, ("last chorus", "verse"),
                    ((7.0, 8.0),), 0.05, Mark(1, 1)),)  # fmt: skip
    assert spans_in(ride, mix) == ((7.0, 8.0), (20.0, 40.0), (60.0, 80.0))
    elsewhere = replace(mix, sections=(Section("verse", 5.0, 6.0), Section("last chorus", 0.5, 0.5)))
    assert spans_in(ride, elsewhere) == ((5.0, 6.0), (7.0, 8.0))


def test_a_ride_as_it_is_written(load):
    chain = load(BASE + "rides:\n  - {name: Last lift, set: Colour.Drive, by: 5 % travel, "
                 "in: [last chorus, 0:00-0:10], ramp: 500 ms}\n"
                 "  - {name: quiet, set: lift.level, to: -6 dB, in: verse}\n")  # fmt: skip
    assert chain.rides == (
        Ride("Last lift", SettingRef("colour", "drive", ""), Travel(0.05, "5 % travel"), True, ("last chorus",),
             ((0.0, 10.0),), 0.5, Mark(5, 12)),
        Ride("quiet", SettingRef("lift", "level", ""), Number(-6, "dB", "-6 dB"), False, ("verse",), (), 0.05,
             Mark(6, 12)),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("written", "ref", "amount", "relative"),
    [
        ("set: colour.drive, by: -100 % travel", SettingRef("colour", "drive", ""), Travel(-1, "-100 % travel"), True),
        ("set: colour.drive, to: 40 % travel", SettingRef("colour", "drive", ""), Travel(0.4, "40 % travel"), False),
        ("set: colour.mid.Tone, by: -1.5 dB", SettingRef("colour", "Tone", "mid"), Number(-1.5, "dB", "-1.5 dB"), True),
        ("set: colour.blend, by: -20 %", SettingRef("colour", "blend", ""), Number(-20, "%", "-20 %"), True),
        ("set: colour.blend, to: 100 %", SettingRef("colour", "blend", ""), Number(100, "%", "100 %"), False),
        ("set: comp.output trim, by: 1", SettingRef("comp", "output trim", ""), Number(1, "", "1"), True),
        ("set: lift.level, by: +1.5 dB", SettingRef("lift", "level", ""), Number(1.5, "dB", "+1.5 dB"), True),
        ("set: comp.Speed, to: 30 ms", SettingRef("comp", "Speed", ""), Number(30, "ms", "30 ms"), False),
    ],
)  # fmt: skip
def test_what_can_move_and_how_far(load, written, ref, amount, relative):
    (found,) = load(BASE + ride(f"{written}, {WHEN}")).rides
    assert (found.ref, found.amount, found.relative) == (ref, amount, relative)


@pytest.mark.parametrize(("written", "ramp_s"), [("500 ms", 0.5), ("2 s", 2), ("0 ms", 0), ("30 s", 30)])
def test_a_ramp_is_in_seconds(load, written, ramp_s):
    assert load(BASE + ride(f"set: comp.X, by: 1, {WHEN}, ramp: {written}")).rides[0].ramp_s == ramp_s


def test_a_section_that_looks_like_times_is_a_section(load):
    chain = load(BASE.replace("verse:", '"0:00-0:05":') + ride("set: comp.X, by: 1, in: 0:00-0:05"))
    assert (chain.rides[0].sections, chain.rides[0].spans) == (("0:00-0:05",), ())


@pytest.mark.parametrize(
    ("stretches", "ramp", "meet"),
    [
        ("[verse, last chorus]", "9.99 s", ""),
        ("[verse, last chorus]", "10 s", "one ends at 0:40.0, another begins at 1:00.0, ramps included"),
        ("[0:10-0:20, 0:20-0:30]", "0 s", "one ends at 0:20.0, another begins at 0:20.0"),
        ("[0:10-0:25, verse]", "0 s", "one ends at 0:25.0, another begins at 0:20.0"),
        ("[last chorus, 0:00-0:05, verse]", "1 s", ""),
    ],
)
def test_the_stretches_of_a_ride_keep_apart(load, problems, stretches, ramp, meet):
    text = BASE + ride(f"set: comp.X, by: 1, ramp: {ramp}, in: {stretches}")
    if not meet:
        assert len(load(text).rides) == 1
        return
    (problem,) = problems(text)
    remedy = "make one stretch of them" + (", or the ramp shorter" if "ramps" in meet else "")
    assert (problem.what, problem.remedy) == (f"two stretches of 'r' meet: {meet}", remedy)
    assert (problem.line, problem.column) == (4, 47 + len(ramp))


def test_sections_are_looked_for_in_every_mix(load, problems):
    mixes = BASE.replace("mix: {", "mixes: [{").replace('1:20"}}', '1:20"}}, {file: b.wav, sections: {SECTIONS}}]')
    text = ride("set: comp.X, by: 1, in: [verse, 0:50-0:55]")
    assert load(mixes.replace("SECTIONS", 'verse: "1:00-1:10"') + text).rides[0].sections == ("verse",)
    (missing,) = problems(mixes.replace("SECTIONS", 'x: "1:00-1:10"') + text)
    assert (missing.what, missing.remedy) == (
        "the mix 'b.wav' has no section 'verse'", "add it there: a ride moves in every mix")  # fmt: skip
    (meeting,) = problems(mixes.replace("SECTIONS", 'verse: "0:52-1:10"') + text)
    assert meeting.what == "two stretches of 'r' meet: one ends at 0:55.0, another begins at 0:52.0"


TWO = ("rides:\n  - {{name: one, set: {first}, in: last chorus, ramp: 1 s}}\n"
       "  - {{name: two, set: {second}, ramp: 1 s}}\n")  # fmt: skip


@pytest.mark.parametrize(
    ("first", "second", "clash"),
    [
        ("colour.drive, to: 1", "colour.Input, to: 2, in: last chorus", "colour.Input"),
        ("colour.drive, to: 1", "colour.mid.Input, to: 2, in: 1:21-1:30", "colour.mid.Input"),
        ("colour.drive, to: 1", "colour.drive, to: 2, in: 1:22-1:30", ""),
        ("colour.drive, to: 1", "colour.drive, to: 2, in: verse", ""),
        ("colour.drive, by: 1", "colour.drive, by: 2, in: last chorus", ""),
        ("colour.drive, to: 1", "colour.drive, by: 2, in: last chorus", ""),
        ("colour.drive, by: 1", "colour.drive, to: 2, in: last chorus", ""),
        ("colour.drive, to: 1", "comp.X, to: 2, in: last chorus", ""),
        ("colour.mid.Tone, to: 1", "colour.side.Tone, to: 2, in: last chorus", ""),
    ],
)
def test_a_control_goes_to_one_place_at_a_time(load, problems, first, second, clash):
    text = BASE + TWO.format(first=first, second=second)
    if not clash:
        assert [each.name for each in load(text).rides] == ["one", "two"]
        return
    (problem,) = problems(text)
    assert problem.what == f"'two' and 'one' on line 5 both say where '{clash}' goes at the same time"
    assert (problem.line, problem.column) == (6, 12)


RIDDEN = BASE + ("rides:\n  - {name: Last lift, set: colour.drive, by: 5 % travel, in: last chorus}\n"
                 "  - {name: quiet, set: lift.level, to: -6 dB, in: verse}\n"
                 "  - {name: wet, set: colour.blend, by: 10 %, in: verse}\n")  # fmt: skip


def test_amounts_are_varied_and_solved(load):
    chain = load(RIDDEN + "vary:\n  colour.drive: [1 dB]\n  Rides.last lift.By: [-5 % travel, 5 % travel]\n"
                 "  rides.quiet.to: {from: -9 dB, to: -3 dB, steps: 3}\n"
                 "reach: [{crest: 9 dB, by: rides.wet.by}, {loudness: -9 LUFS, by: lift.level}]\n")  # fmt: skip
    assert [axis.ref for axis in chain.vary] == [
        SettingRef("colour", "drive", ""), SettingRef("colour", "drive", "", "Last lift", "by"),
        SettingRef("lift", "level", "", "quiet", "to")]  # fmt: skip
    assert str(chain.vary[1].ref) == "rides.Last lift.by"
    assert chain.vary[1].values == (Travel(-0.05, "-5 % travel"), Travel(0.05, "5 % travel"))
    assert [value.text for value in chain.vary[2].values] == ["-9 dB", "-6 dB", "-3 dB"]
    assert chain.reach[0].by == SettingRef("colour", "blend", "", "wet", "by")


def test_a_range_of_a_relative_amount_may_start_below_nothing(load):
    (axis,) = load(RIDDEN + "vary: {rides.last lift.by: {from: -5 % travel, to: 5 % travel, steps: 3}}\n").vary
    assert [value.text for value in axis.values] == ["-5 % travel", "0 % travel", "5 % travel"]


# What is added as line 8 to RIDDEN, where, what, remedy.
AMOUNTS = [
    ("vary: {rides.last lift: [1]}", "8:8", "'rides.last lift' does not name the amount of a ride",
     "write rides.NAME.by or rides.NAME.to, as the ride has it"),
    ("vary: {rides.last lift.ramp: [1]}", "8:8", "'rides.last lift.ramp' does not name the amount of a ride",
     "write rides.NAME.by or rides.NAME.to, as the ride has it"),
    ("vary: {rides.last lift.to: [1]}", "8:8", "the ride 'Last lift' has 'by', not 'to'", "write rides.Last lift.by"),
    ("reach: {crest: 9 dB, by: rides.quiet.by}", "8:26", "the ride 'quiet' has 'to', not 'by'", "write rides.quiet.to"),
    ("vary: {rides.quit.to: [1]}", "8:8", "no ride is called 'quit'", "did you mean 'rides.quiet.to'?"),
    ("vary: {rides.zzz.to: [1]}", "8:8", "no ride is called 'zzz'", "rides here: Last lift, quiet, wet"),
    ("vary: {rides.quiet.to: [1 ms]}", "8:24", "'rides.quiet.to' takes values in dB only", "write e.g. [0 dB, 3 dB]"),
    ("vary: {rides.wet.by: [-101 %]}", "8:22", "'rides.wet.by' takes -100 % to 100 % only",
     "write e.g. [-20 %, 20 %]"),
    ("vary: {rides.last lift.by: [Warm]}", "8:28", "'rides.Last lift.by' takes numbers only",
     "write e.g. [5 % travel, 10 % travel]"),
    ("vary: {rides.last lift.by: {from dialled: [1 dB]}}", "8:28",
     "'rides.Last lift.by' is an amount, and nothing dials it",
     "write the amounts themselves, e.g. rides.Last lift.by: [AMOUNT, AMOUNT]"),
    ("vary: {rides.quiet.to: {from dialled: [1 dB]}}", "8:24",
     "'rides.quiet.to' is an amount, and nothing dials it",
     "write the amounts themselves, e.g. rides.quiet.to: [AMOUNT, AMOUNT]"),
    ("vary: {rides.last lift.by: [-101 % travel]}", "8:29", "'-101 % travel' is beyond the control's way",
     "write -100 to 100 % travel"),
    ("vary: {rides.quiet.to: [1 dB], Rides.Quiet.to: [2 dB]}", "8:32", "'Rides.Quiet.to' stands twice; first on line 8",
     KEEP_ONE),
    ("vary: {rides.wet.by: [1 %]}\nreach: {crest: 9 dB, by: rides.wet.by}", "9:26",
     "'rides.wet.by' is solved here and varied on line 8", "take it out of 'vary', or solve another setting"),
]  # fmt: skip


@pytest.mark.parametrize(("added", "place", "what", "remedy"), AMOUNTS, ids=[row[0] for row in AMOUNTS])
def test_a_fault_in_an_amount_named(problems, added, place, what, remedy):
    found = [(f"{p.line}:{p.column}", p.what, p.remedy) for p in problems(RIDDEN + added + "\n")]
    assert found == [(place, what, remedy)]


def test_there_are_no_rides_to_name(problems):
    (problem,) = problems(BASE + "vary: {rides.x.by: [1]}\n")
    assert (problem.what, problem.remedy) == ("no ride is called 'x'", "rides here: none")


def test_a_value_to_go_to_is_no_step(problems):
    (problem,) = problems(BASE + ride(f"set: comp.X, to: 5 % travel, {WHEN}") + "vary: {rides.r.to: [-5 % travel]}\n")
    assert (problem.what, problem.remedy) == ("'-5 % travel' is beyond the control's way", "write 0 to 100 % travel")


def test_nothing_more_is_said_of_a_ride_without_a_name(problems):
    found = problems(BASE + f"rides: [{{set: comp.X, to: 5, {WHEN}}}]\nvary: {{rides.r.to: [1]}}\n")
    assert [problem.what for problem in found] == ["this ride has no name"]


def test_nothing_more_is_said_of_a_faulty_ride(problems):
    found = problems(BASE + ride("set: colour.drive, by: soft, " + WHEN) + "vary: {rides.r.by: [1], rides.r.to: [2]}\n")
    assert [problem.what for problem in found] == ["'by' is 'soft', and 'colour.drive' takes numbers only"]


# What is added as line 4 to BASE, where, what, remedy.
ADDED = [
    ("rides: up", "4:8", "a ride is a single value, not a mapping", EXAMPLE),
    ("rides: [{set: comp.X, by: 1, in: verse}]", "4:9", "this ride has no name", "add e.g. name: last-lift"),
    ("rides: [{name: a.b, set: comp.X, by: 1, in: verse}]", "4:16", "the ride's name 'a.b' has a dot in it",
     "write it without dots"),
    ("rides: [{name: a, set: comp.X, by: 1, in: verse}, {name: A, set: comp.Y, by: 1, in: verse}]", "4:58",
     "two rides are called 'A'; first on line 4", "give one of them another 'name:'"),
    (ride("sett: comp.X, by: 1, in: verse"), "4:19", "unknown key 'sett' in a ride", "did you mean 'set'?"),
    (ride("by: 1, in: verse"), "4:9", "this ride names no setting", "add e.g. set: colour.drive"),
    (ride("set: [comp.X], by: 1, in: verse"), "4:24", "set is a list, not a single value",
     "write one setting, e.g. colour.drive"),
    (ride("set: cmp.X, by: 1, in: verse"), "4:24", "no stage is called 'cmp'", "did you mean 'comp.X'?"),
    (ride("set: rides.r.by, by: 1, in: verse"), "4:24", "'rides.r.by' is a ride, and a ride moves a setting of a stage",
     "write STAGE.SETTING, e.g. colour.drive"),
    (ride("set: comp.bypass, by: 1, in: verse"), "4:24", "bypass is on or off, nothing to ride",
     "name a setting with a range"),
    (ride("set: off.X, by: 1, in: verse"), "4:24", "'off' is bypassed, so 'off.X' changes nothing",
     "take 'bypass' out of 'off', or take the ride out"),
    (ride("set: lift.blend, by: 1 %, in: verse"), "4:24", "the bus 'lift' has no 'blend'",
     "write lift.level or lift.bypass, or name a stage on it"),
    (ride("set: comp.X, in: verse"), "4:9", "this ride does not say how far",
     "add e.g. by: 5 % travel, or to: VALUE"),
    (ride("set: comp.X, by: 1, to: 2, in: verse"), "4:39", "'by' and 'to' both stand in this ride", KEEP_ONE),
    (ride("set: comp.X, to: 1, by: 2, in: verse"), "4:39", "'by' and 'to' both stand in this ride", KEEP_ONE),
    (ride("set: comp.X, to: Warm, in: verse"), "4:36", "'to' is 'Warm', and 'comp.X' takes numbers only",
     "write e.g. 10 % travel"),
    (ride("set: comp.X, to: on, in: verse"), "4:36", "'to' is 'on', and 'comp.X' takes numbers only",
     "write e.g. 10 % travel"),
    (ride("set: comp.X, to: -1 % travel, in: verse"), "4:36", "'-1 % travel' is beyond the control's way",
     "write 0 to 100 % travel"),
    (ride("set: comp.X, by: 101 % travel, in: verse"), "4:36", "'101 % travel' is beyond the control's way",
     "write -100 to 100 % travel"),
    (ride("set: comp.X, by: [1], in: verse"), "4:36", "by is a list, not a single value",
     "write one value here; values to compare go under 'vary'"),
    (ride("set: lift.level, by: 5 % travel, in: verse"), "4:40",
     "'by' is '5 % travel', and 'lift.level' takes values in dB only", "write e.g. 3 dB"),
    (ride("set: comp.blend, to: -5 %, in: verse"), "4:40", "'to' is '-5 %', and 'comp.blend' takes 0 % to 100 % only",
     "write e.g. 100 %"),
    (ride("set: comp.blend, by: 0.5, in: verse"), "4:40",
     "'by' is '0.5', and 'comp.blend' takes -100 % to 100 % only", "write e.g. 20 %"),
    (ride("set: comp.X, by: 1"), "4:9", "this ride does not say when", f"add where it moves; {IN}"),
    (ride("set: comp.X, by: 1, in: []"), "4:39", "this ride does not say when", f"add where it moves; {IN}"),
    (ride("set: comp.X, by: 1, in: [[verse]]"), "4:44", "an entry of 'in' is a list, not a single value", IN),
    (ride("set: comp.X, by: 1, in: [vers]"), "4:44", "no section is called 'vers'", "did you mean 'verse'?"),
    (ride("set: comp.X, by: 1, in: [1:20-1:00]"), "4:44", "the stretch '1:20-1:00' ends at or before its start",
     "write the earlier time first"),
    (ride("set: comp.X, by: 1, in: [verse, verse]"), "4:51", "'verse' stands twice", KEEP_ONE),
    (ride("set: comp.X, by: 1, in: verse, ramp: 31 s"), "4:56", "ramp of '31 s' is beyond reason", RAMP),
    (ride("set: comp.X, by: 1, in: verse, ramp: 500"), "4:56", "ramp is '500', no length of time", RAMP),
]  # fmt: skip


@pytest.mark.parametrize(("added", "place", "what", "remedy"), ADDED, ids=[row[0] for row in ADDED])
def test_a_fault_is_told_alone_at_its_place_with_a_remedy(problems, added, place, what, remedy):
    found = [(f"{p.line}:{p.column}", p.what, p.remedy) for p in problems(BASE + added + "\n")]
    assert found == [(place, what, remedy)]


def test_a_handle_ridden_is_one_of_every_alternative(problems):
    any_of = "inserts: [{name: c, any of: [{plugin: A, drive: raise X}, {plugin: B}]}]\n"
    (problem,) = problems("mix: a.wav\n" + any_of + ride("set: c.drive, by: 1, in: 0:00-0:10"))
    assert (problem.line, problem.column, problem.what) == (
        3, 24, "'c.drive' means every alternative, and 'B' has no 'drive'")  # fmt: skip
