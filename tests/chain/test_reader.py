"""What a good file means, and what is forgiven."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweeper.chain import (
    Assignment,
    Channels,
    Choice,
    Condition,
    Handle,
    Mark,
    Number,
    Preference,
    Reach,
    Section,
    SettingRef,
    Switch,
    Travel,
)

BASE = "mix: a.wav\noutput:\n  - {name: limiter, plugin: Brick, drive: raise Input}\n"


def values(load, written: str) -> tuple[object, ...]:
    return load(BASE + f"vary:\n  limiter.X: {written}\n").vary[0].values


@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("-12 dB", Number(-12, "dB", "-12 dB")),
        ("-12db", Number(-12, "dB", "-12db")),
        ("4", Number(4, "", "4")),
        ("30 msec", Number(30, "ms", "30 msec")),
        ("1.2 kHz", Number(1.2, "kHz", "1.2 kHz")),
        ("'-1,5 dB'", Number(-1.5, "dB", "-1,5 dB")),
        ("−1.5 dB", Number(-1.5, "dB", "−1.5 dB")),
        ("–1.5\u00a0dB", Number(-1.5, "dB", "–1.5\u00a0dB")),
        ("3 st", Number(3, "st", "3 st")),
        ("37 % travel", Travel(0.37, "37 % travel")),
        ("37% travel", Travel(0.37, "37% travel")),
        ("0 % travel", Travel(0.0, "0 % travel")),
        ("100 % travel", Travel(1.0, "100 % travel")),
        ("50 %", Number(50, "%", "50 %")),
        ("on", Switch(True, "on")),
        ("Off", Switch(False, "Off")),
        ("YES", Switch(True, "YES")),
        ("'no'", Switch(False, "no")),
        ("True", Switch(True, "True")),
        ("Modern", Choice("Modern")),
        ("“Modern”", Choice("Modern")),
        ("4:1", Choice("4:1")),
        ("1/3", Choice("1/3")),
        ("2x oversampling", Choice("2x oversampling")),
        ("1176 Revision", Choice("1176 Revision")),
        ("-inf dB", Choice("-inf dB")),
        ("Don’t clip", Choice("Don’t clip")),
    ],
)
def test_a_value_is_read_as_what_it_looks_like(load, written, value):
    assert values(load, f"[{written}]") == (value,)


@pytest.mark.parametrize(
    ("written", "numbers", "unit"),
    [
        ("{from: 0 dB, to: 3 dB, steps: 4}", (0, 1, 2, 3), "dB"),
        ("{from: 3 dB, to: 0 dB, steps: 4, spacing: linear}", (3, 2, 1, 0), "dB"),
        ("{from: 1 ms, to: 100 ms, steps: 3, spacing: log}", (1, 10, 100), "ms"),
        ("{from: 50 ms, to: 0.2 s, steps: 3, spacing: log}", (50, 100, 200), "ms"),
        ("{from: 0, to: 1 dB, steps: 2}", (0, 1), "dB"),
        ("{from: 0, to: 0.3, steps: 4}", (0, 0.1, 0.2, 0.3), ""),
    ],
)
def test_a_range_is_expanded_with_both_ends(load, written, numbers, unit):
    found = values(load, written)
    assert tuple(value.value for value in found) == numbers
    assert {value.unit for value in found} == {unit}


def test_a_range_of_travel(load):
    assert values(load, "{from: 0 % travel, to: 10 % travel, steps: 3}") == (
        Travel(0.0, "0 % travel"), Travel(0.05, "5 % travel"), Travel(0.1, "10 % travel"))  # fmt: skip


def test_the_values_of_a_range_are_written_as_a_user_would(load):
    assert [value.text for value in values(load, "{from: -3 dB, to: -1 dB, steps: 5}")] == [
        "-3 dB", "-2.5 dB", "-2 dB", "-1.5 dB", "-1 dB"]  # fmt: skip


FULL = """\
title: Lantern Bay
mixes:
  - {file: a.wav, sections: {verse 1: "0:00-0:20", last chorus: 1:00 – 1:20.5}}
references: [a-record-the-client-likes.wav]
inserts:
  - name: glue
    plugin: My Compressor
    state: states/glue.vstpreset
    channels: Mid / Side
    settings: {mid: {Ratio: 1.5}, side: {Ratio: 2}, Mode: Soft, output trim: -0.5 dB}
    input trim: 1 dB
    bypass: on
  - plugin: "builtin:Compressor"
output:
  - plugin: "C:\\\\Plugins\\\\Brick Wall.vst3"
    name: limiter
    drive: lower Threshold
    ceiling: Output Trim
vary:
  Glue.bypass: [off, on]
  limiter.Band 1.Gain: [1 dB, 2 dB]
  Glue.mid.Ratio: [2]
  compressor.input trim: [0 dB, 1 dB]
reach:
  - {loudness: -14 LUFS, within: 0.2 dB, by: Limiter.Drive, stop at: [crest ≥ 8 dB, overs <= 0]}
  - {true peak: At most -1 dBTP}
limits: mono loss <= 1 LU
prefer: [crest highest, mono loss lowest]
audition: {match over: [last chorus]}
"""


def without_bypass(load):
    return load(FULL.replace("    bypass: on\n", ""))


def test_mixes_and_sections(load, folder):
    chain = without_bypass(load)
    assert chain.title == "Lantern Bay"
    (mix,) = chain.mixes
    assert (mix.file, mix.written, mix.mark) == (folder / "a.wav", "a.wav", Mark(3, 12))
    assert mix.sections == (Section("verse 1", 0, 20), Section("last chorus", 60, 80.5))
    assert chain.match_over == ("last chorus",)
    assert chain.references[0].file == folder / "a-record-the-client-likes.wav"


def test_stages_in_the_order_of_the_signal(load, folder):
    glue, compressor, limiter = without_bypass(load).stages
    assert (glue.name, compressor.name, limiter.name) == ("glue", "compressor", "limiter")
    assert (glue.output, compressor.output, limiter.output) == (False, False, True)
    assert (glue.plugin, glue.channels) == ("My Compressor", Channels.MID_SIDE)
    assert glue.state == folder / "states" / "glue.vstpreset"
    assert (glue.input_trim_db, glue.output_trim_db, glue.bypass) == (1.0, -0.5, False)
    assert (glue.mark, glue.plugin_mark) == (Mark(6, 11), Mark(7, 13))
    assert glue.settings == (
        Assignment("Ratio", Number(1.5, "", "1.5"), "mid", Mark(10, 22)),
        Assignment("Ratio", Number(2, "", "2"), "side", Mark(10, 42)),
        Assignment("Mode", Choice("Soft"), "", Mark(10, 53)),
    )
    assert limiter.handles == (
        Handle("drive", "lower", "Threshold", Mark(16, 5)),
        Handle("ceiling", "", "output trim", Mark(17, 5)),
    )


def test_bypass(load):
    vary = FULL[FULL.index("vary:") : FULL.index("reach:")]
    assert load(FULL.replace(vary, "")).inserts[0].bypass


def test_vary_names_stages_and_our_own_names_in_our_spelling(load):
    assert [axis.ref for axis in without_bypass(load).vary] == [
        SettingRef("glue", "bypass", ""),
        SettingRef("limiter", "Band 1.Gain", ""),
        SettingRef("glue", "Ratio", "mid"),
        SettingRef("compressor", "input trim", ""),
    ]


def test_reach_and_its_stops(load):
    (reach,) = without_bypass(load).reach
    assert reach == Reach(
        key="loudness_lufs", goal=-14, at_most=False, within=0.2, by=SettingRef("limiter", "drive", ""),
        stop_at=(Condition("crest_db", ">=", 8, "crest ≥ 8 dB", Mark(24, 71)),
                 Condition("overs", "<=", 0, "overs <= 0", Mark(24, 85))),
        mark=Mark(24, 6))  # fmt: skip


def test_within_is_a_tenth_of_a_lu_where_nothing_is_said(load):
    (reach,) = load(BASE + "reach: {loudness: -14, by: limiter.drive}\n").reach
    assert (reach.goal, reach.within) == (-14, 0.1)


def test_a_true_peak_that_nothing_is_solved_for_is_a_limit(load):
    assert without_bypass(load).limits == (
        Condition("true_peak_dbtp", "<=", -1, "true peak <= -1 dBTP", Mark(25, 6)),
        Condition("mono_loss_lu", "<=", 1, "mono loss <= 1 LU", Mark(26, 9)),
    )


def test_preferences_in_their_order(load):
    assert without_bypass(load).prefer == (
        Preference("crest_db", True, Mark(27, 10)), Preference("mono_loss_lu", False, Mark(27, 25)))  # fmt: skip


def test_several_mixes_each_to_the_target(load):
    chain = load("mixes: [a.wav, b.wav]\nalbum: each to target\noutput: {plugin: A}\n"
                 "reach: {loudness: -14 LUFS, by: a.X}\n")  # fmt: skip
    assert [mix.written for mix in chain.mixes] == ["a.wav", "b.wav"]


def test_an_album_may_keep_its_relations(load):
    text = "mixes: [a.wav, b.wav]\nalbum: {}\noutput: {{plugin: A}}\nreach: {{loudness: -14 LUFS, by: a.X}}\n"
    assert load(text.format("Keep relations")).keeps_relations
    assert not load(text.format("each to target")).keeps_relations


def test_several_mixes_without_a_loudness_need_no_album(load):
    assert len(load("mixes: [a.wav, b.wav]\noutput: {plugin: A}\n").mixes) == 2


def test_one_mix_may_have_sections(load):
    chain = load("mix: {file: a.wav, sections: {v: 0:00-0:20}}\noutput: {plugin: A}\n")
    assert chain.mixes[0].sections == (Section("v", 0, 20),)


def test_lists_whose_entries_are_commented_out_are_empty(load):
    chain = load(BASE + "inserts:\nreferences:\n#  - x.wav\nvary:\nreach:\nlimits: ~\nprefer: []\naudition:\n")
    assert (chain.inserts, chain.references, chain.vary, chain.reach) == ((), (), (), ())
    assert (chain.limits, chain.prefer, chain.match_over) == ((), (), ())


@pytest.mark.parametrize("line", ["mix: 'song #2.wav'", "mix: “song #2.wav”   # no, straight quotes"])
def test_a_name_with_a_hash_needs_straight_quotes(load, problems, line):
    if "'" in line:
        assert load(line + "\noutput: {plugin: A}\n").mixes[0].written == "song #2.wav"
    else:
        assert "cut short" in problems(line + "\noutput: {plugin: A}\n")[0].what


@pytest.mark.parametrize("comment", [" # words", "   # words", "  #words", " #", " # # words"])
def test_a_comment_is_a_comment(load, comment):
    assert load(f"mix: a.wav{comment}\noutput: {{plugin: A}}{comment}\n").mixes[0].written == "a.wav"


def test_a_sloppy_comment_after_a_key_is_forgiven(load):
    assert load("mix: a.wav\noutput: #my limiter\n  - plugin: A\n").output[0].plugin == "A"


def test_curly_quotes_around_a_value_are_forgiven(load):
    assert load("mix: “a.wav”\noutput: {plugin: ‘My Limiter’}\n").output[0].plugin == "My Limiter"


def test_curly_quotes_of_a_name_are_kept_in_straight_ones(load):
    assert load('mix: "“heroes”.wav"\noutput: {plugin: A}\n').mixes[0].written == "“heroes”.wav"


def test_an_alias_repeats_what_its_anchor_says(load):
    chain = load("mix: a.wav\ninserts:\n  - {plugin: A, settings: &s {X: 1}}\noutput: {plugin: B, settings: *s}\n")
    assert chain.inserts[0].settings == chain.output[0].settings


def test_the_title_is_the_files_name_where_none_is_given(load):
    assert load(BASE).title == "album"


def test_paths_start_from_the_chain_files_folder(load, folder, monkeypatch):
    (folder / "elsewhere").mkdir()
    load(BASE)
    monkeypatch.chdir(folder / "elsewhere")
    from sweeper.chain import load_chain

    assert load_chain(Path("../album.chain.yaml")).mixes[0].file.samefile(folder / "a.wav")


def test_a_path_may_start_from_the_home_folder(load, folder, monkeypatch):
    monkeypatch.setattr(Path, "expanduser", lambda path: folder / path.relative_to("~"))
    assert load("mix: ~/b.wav\noutput: {plugin: A}\n").mixes[0].file == folder / "b.wav"


@pytest.mark.parametrize(
    ("plugin", "name"),
    [("builtin:BrickwallLimiter", "brickwalllimiter"), ("My EQ", "my eq"), ("/Library/My EQ.vst3", "my eq"),
     ("'C:\\Plugins\\My EQ.vst3'", "my eq"), ("EQ/Comp", "eq/comp"), ("1176", "1176")],
)  # fmt: skip
def test_a_stage_without_a_name_has_its_plugins(load, plugin, name):
    assert load(f"mix: a.wav\noutput:\n  - plugin: {plugin}\n").output[0].name == name
