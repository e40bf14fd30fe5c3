"""What stands beside a plugin: blend, its true latency, its tail, how often it may be loaded."""

from __future__ import annotations

import pytest

from sweeper.chain import FromDialled, Handle, Mark, Number, SettingRef, Switch

KEEP_ONE = "keep one of the two"
BASE = "mix: a.wav\noutput:\n  - {name: limiter, plugin: Brick, drive: raise Input}\n"
LATENCY = "write e.g. 512 samples or 10 ms, up to 10 s"
BLEND = "write 0 % to 100 %, e.g. 70 %"
TAIL = "write 0 s to 60 s, or ms"
INSTANCES = "write 1, or take it out: any number may be loaded"


def colour(load, written: str, rest: str = ""):
    return load(BASE + f"inserts: [{{name: colour, plugin: A, {written}}}]\n" + rest).inserts[0]


@pytest.mark.parametrize(("written", "share"), [("70 %", 0.7), ("0%", 0.0), ("100 %", 1.0), ("'12,5 %'", 0.125)])
def test_blend_is_a_share(load, written, share):
    assert colour(load, f"blend: {written}").blend == share


@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("512 samples", Number(512, "samples", "512 samples")),
        ("0 samples", Number(0, "samples", "0 samples")),
        ("64 frames", Number(64, "samples", "64 frames")),
        ("10 ms", Number(10, "ms", "10 ms")),
        ("10 s", Number(10_000, "ms", "10 s")),
        ("'0,5 ms'", Number(0.5, "ms", "0,5 ms")),
    ],
)
def test_latency_is_in_samples_or_ms(load, written, value):
    assert colour(load, f"latency: {written}").latency == value


@pytest.mark.parametrize(("written", "tail_s"), [("3 s", 3), ("250 ms", 0.25), ("60 s", 60), ("0 s", 0)])
def test_a_tail_is_in_seconds(load, written, tail_s):
    assert colour(load, f"tail: {written}").tail_s == tail_s


def test_a_plugin_may_be_held_to_one_instance(load):
    assert colour(load, "instances: 1, channels: mid").instances == 1


def test_nothing_said_is_all_of_the_plugin_as_it_reports_itself(load):
    stage = colour(load, "state: states/glue.vstpreset")
    assert (stage.blend, stage.latency, stage.tail_s, stage.instances) == (1.0, None, 0.0, 0)
    assert (stage.outside, stage.returned, stage.bus, stage.is_fader) == ("", None, "", False)


def test_beside_alternatives_they_hold_unless_one_says_otherwise(load):
    stage = load(BASE + "inserts:\n  - name: c\n    blend: 70 %\n    tail: 2 s\n    instances: 1\n"
                 "    any of:\n      - {plugin: A, latency: 5 ms}\n      - {plugin: B, blend: 40 %, tail: 0 s}\n"
                 ).inserts[0]  # fmt: skip
    assert [(a.blend, a.tail_s, a.instances, a.latency) for a in stage.alternatives] == [
        (0.7, 2, 1, Number(5, "ms", "5 ms")), (0.4, 0, 1, None)]  # fmt: skip


def test_among_the_settings_blend_is_the_plugins_own(load):
    stage = colour(load, "blend: 30 %, settings: {Blend: 50 %}")
    assert [(a.name, a.value) for a in stage.settings] == [("Blend", Number(50, "%", "50 %"))]
    assert stage.blend == 0.3


def test_blend_is_varied_as_a_setting_of_ours(load):
    chain = load(BASE + "inserts: [{name: colour, plugin: A}]\nvary:\n  Colour.Blend: [50 %, 100 %]\n"
                 "  limiter.blend: {from dialled: [-10 %, 0 %]}\n")  # fmt: skip
    first, second = chain.vary
    assert (first.ref, first.values) == (
        SettingRef("colour", "blend", ""), (Number(50, "%", "50 %"), Number(100, "%", "100 %")))  # fmt: skip
    assert second.values == (FromDialled(Number(-10, "%", "-10 %"), "dialled -10 %"),
                             FromDialled(Number(0, "%", "0 %"), "as dialled"))  # fmt: skip


def test_a_range_of_blend(load):
    (axis,) = load(BASE + "vary: {limiter.blend: {from: 50 %, to: 100 %, steps: 3}}\n").vary
    assert [value.text for value in axis.values] == ["50 %", "75 %", "100 %"]


def test_blend_is_solved_and_stands_behind_handles(load):
    chain = load(BASE + "inserts: [{name: colour, plugin: A, drive: raise Blend}]\n"
                 "reach: [{loudness: -9 LUFS, by: colour.drive}, {crest: 8 dB, by: limiter.blend}]\n")  # fmt: skip
    assert chain.inserts[0].handles == (Handle("drive", "raise", "blend", Mark(4, 37)),)
    assert [str(reach.by) for reach in chain.reach] == ["colour.drive", "limiter.blend"]


def test_bypass_is_still_varied_beside_blend(load):
    (axis,) = load(BASE + "vary: {limiter.bypass: [off, on]}\n").vary
    assert axis.values == (Switch(False, "off"), Switch(True, "on"))


def stage(written: str) -> str:
    return f"inserts: [{{plugin: A, {written}}}]"


# What is added as line 4 to a good file, where, what, remedy.
ADDED = [
    *((stage(f"blend: {value}"), "4:30", f"blend is '{value}'", BLEND)
      for value in ("0.7", "70", "101 %", "-1 %", "half", "50 % travel", "1e999 %")),
    (stage("blend: [1 %]"), "4:30", "blend is a list, not a single value", BLEND),
    *((stage(f"latency: {value}"), "4:32", f"latency is '{value}'", LATENCY)
      for value in ("512", "1.5 samples", "-1 samples", "-1 ms", "10001 ms", "11 s", "1920001 samples", "long", "3 dB",
                    "1e999 ms", "1e999 samples")),
    (stage("latency: [1]"), "4:32", "latency is a list, not a single value", LATENCY),
    *((stage(f"tail: {value}"), "4:29", f"tail is '{value}', no length of time", TAIL)
      for value in ("3", "long", "3 dB", "512 samples", "1e999 s")),
    (stage("tail: 61 s"), "4:29", "tail of '61 s' is beyond reason", TAIL),
    (stage("tail: -1 ms"), "4:29", "tail of '-1 ms' is beyond reason", TAIL),
    *((stage(f"instances: {value}"), "4:34", f"instances is '{value}'", INSTANCES) for value in ("2", "0", "one")),
    *((stage(f"channels: {channels}, instances: 1"), f"4:{35 + len(channels)}",
       f"'instances: 1' allows one instance, and channels {channels} needs two", "take one of the two out")
      for channels in ("left/right", "mid/side")),
    ("inserts: [{name: c, instances: 1, any of: [{plugin: A, channels: mid/side}, {plugin: B}]}]", "4:56",
     "'instances: 1' allows one instance, and channels mid/side needs two", "take one of the two out"),
    ("inserts: [{name: c, any of: [{plugin: A, blend: 2}, {plugin: B}]}]", "4:49", "blend is '2'", BLEND),
    ("vary: {limiter.blend: [50 %, 120 %]}", "4:23", "'limiter.blend' takes 0 % to 100 % only",
     "write e.g. [50 %, 100 %]"),
    ("vary: {limiter.blend: [0.5]}", "4:23", "'limiter.blend' takes 0 % to 100 % only", "write e.g. [50 %, 100 %]"),
    ("vary: {limiter.blend: {from dialled: [5 % travel]}}", "4:23", "'limiter.blend' takes 0 % to 100 % only",
     "write e.g. [50 %, 100 %]"),
    ("vary: {limiter.blend: {from dialled: [-101 %]}}", "4:23", "'limiter.blend' takes 0 % to 100 % only",
     "write e.g. [50 %, 100 %]"),
    ("inserts: [{plugin: A, drive: raise blend}]\nvary: {a.drive: [50 %], a.blend: [70 %]}", "5:25",
     "'a.blend' turns the same control as 'a.drive' on line 5", KEEP_ONE),
    ("inserts: [{plugin: A, channels: mid/side}]\nvary: {a.mid.blend: [50 %]}", "5:8",
     "'blend' belongs to the whole stage, not to one side", "write a.blend"),
    ("inserts: [{plugin: A, channels: mid/side, drive: raise input trim}]\nvary: {a.mid.drive: [1 dB]}", "5:8",
     "'drive' belongs to the whole stage, not to one side", "write a.drive"),
]  # fmt: skip


@pytest.mark.parametrize(("added", "place", "what", "remedy"), ADDED, ids=[row[0] for row in ADDED])
def test_a_fault_is_told_alone_at_its_place_with_a_remedy(problems, added, place, what, remedy):
    found = [(f"{p.line}:{p.column}", p.what, p.remedy) for p in problems(BASE + added + "\n")]
    assert found == [(place, what, remedy)]


@pytest.mark.parametrize(("written", "inverted"), [("inverted", True), ("Inverted", True), ("normal", False)])
def test_polarity_is_inverted_or_not(load, written, inverted):
    assert colour(load, f"polarity: {written}").inverted is inverted


def test_another_polarity_is_a_fault(problems):
    (problem,) = problems(BASE + "inserts: [{name: colour, plugin: A, polarity: flip}]\n")
    assert (problem.what, problem.remedy) == ("polarity is 'flip'", "write inverted, or take it out")
