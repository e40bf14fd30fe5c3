"""What one mix of an album has of its own: read as it is written, and every slip told at its line with its remedy."""

from __future__ import annotations

import pytest

from sweeper.chain.model import Number, SettingRef, Switch

CHAIN = """mixes:
  - a.wav
  - {{file: b.wav, {own}}}
album: each to target
inserts:
  - {{name: tone, plugin: EQ, channels: mid/side, settings: {{mid: {{Gain: 2 dB}}, Freq: 1 kHz}}}}
  - {{name: glue, plugin: Comp, settings: {{Ratio: 2}}, drive: lower Threshold}}
  - {{name: colour, any of: [{{plugin: Valve, drive: raise Input}}, {{plugin: Iron, drive: raise Amt}}], blend: 70 %}}
  - {{name: off, plugin: EQ, bypass: on}}
buses:
  - {{name: lift, level: -12 dB, inserts: [{{name: air, plugin: EQ}}]}}
output: [{{name: limiter, plugin: Brick, drive: raise Input, ceiling: Ceiling}}]
rides: [{{name: up, set: lift.level, by: 1 dB, in: ["0:01-0:02"]}}]
vary: {{limiter.Release: [5 ms, 9 ms], tone.side.Gain: [0 dB, 1 dB], colour.bypass: [on, off]}}
reach:
  - {{loudness: -10 LUFS, within: 0.3 LU, by: limiter.drive, stop at: [glue.attenuation <= 3 dB]}}
  - {{true peak: at most -1 dBTP, by: limiter.ceiling}}
  - {{sample peak: at most -0.5 dBFS}}
limits: [crest >= 8 dB, mono loss <= 2 LU]
"""


@pytest.fixture
def read(load):
    return lambda own: load(CHAIN.format(own=own)).mixes[1]


@pytest.fixture
def told(problems):
    return lambda own: [(p.line, p.what, p.remedy) for p in problems(CHAIN.format(own=own))]


def test_settings_are_named_as_vary_names_them(read):
    mix = read("settings: {glue.threshold: -9 dB, off.bypass: off, Tone.Mid.Gain: 1 dB, lift.level: -15 dB, "
               "limiter.Input Trim: 1 dB, colour.drive: 3, colour.blend: 50 %, rides.up.by: -2 dB}")  # fmt: skip
    assert [(str(one.ref), one.value.text) for one in mix.settings] == [
        ("glue.threshold", "-9 dB"), ("off.bypass", "off"), ("tone.mid.Gain", "1 dB"), ("lift.level", "-15 dB"),
        ("limiter.input trim", "1 dB"), ("colour.drive", "3"), ("colour.blend", "50 %"), ("rides.up.by", "-2 dB"),
    ]  # fmt: skip
    assert mix.settings[0].value == Number(-9.0, "dB", "-9 dB")
    assert mix.settings[1].value == Switch(False, "off")
    assert mix.settings[2].ref == SettingRef("tone", "Gain", "mid")
    assert not mix.is_plain


def test_goals_and_limits_are_those_of_the_chains_own_measurements(read):
    mix = read("reach: {loudness: ebu-r128, true peak: at most -2 dBTP, sample peak: at most -3 dBFS}, "
               "limits: [crest >= 10 dB, loudness range <= 9 LU]")  # fmt: skip
    # EBU R 128 (2020): programme loudness -23.0 LUFS.
    assert [(one.key, one.goal) for one in mix.goals] == [("loudness_lufs", -23.0), ("true_peak_dbtp", -2.0)]
    assert [(one.text, one.value) for one in mix.limits] == [
        ("sample peak <= -3 dBFS", -3.0), ("crest >= 10 dB", 10.0), ("loudness range <= 9 LU", 9.0)]  # fmt: skip


def test_meets_a_target_stands_for_all_its_bounds(read):
    assert {one.target for one in read("limits: [meets ebu-r128]").limits} == {"ebu-r128"}


def test_a_mix_without_any_of_it_is_plain(load):
    assert all(mix.is_plain for mix in load("mixes: [a.wav, b.wav]\noutput: [{name: l, plugin: B}]\n").mixes)


@pytest.mark.parametrize(
    ("own", "what", "remedy"),
    [
        ("settngs: {glue.Ratio: 3}", "unknown key 'settngs' in a mix", "did you mean 'settings'?"),
        ("settings: {glu.Ratio: 3}", "no stage is called 'glu'", "did you mean 'glue.Ratio'?"),
        ("settings: {glue: 3}", "'glue' does not name a setting of a stage", "write STAGE.SETTING, e.g. limiter.drive"),
        ("settings: on", "settings of a mix is a single value, not a mapping", "write NAME: VALUE, one a line"),
        ("settings: {glue.Ratio: [2, 3]}", "glue.Ratio is a list, not a single value",
         "write one value here; values to compare go under 'vary'"),
        ("settings: {limiter.release: 7 ms}",
         "'limiter.release' is set for one mix here, and varied for all on line 14",
         "take it out here, or out of 'vary'"),
        ("settings: {tone.Gain: 1 dB}", "'tone.Gain' is set for one mix here, and varied for all on line 14",
         "take it out here, or out of 'vary'"),
        ("settings: {colour.bypass: on}", "'colour.bypass' is set for one mix here, and varied for all on line 14",
         "take it out here, or out of 'vary'"),
        ("settings: {limiter.Input: 7}", "'limiter.Input' is set for one mix here, and solved for all on line 16",
         "take it out here, or solve another setting there"),
        ("settings: {glue.drive: -3 dB, glue.Threshold: -4 dB}",
         "'glue.Threshold' turns the same control as 'glue.drive' on line 3", "keep one of the two"),
        ("settings: {lift.bypass: 3 dB}", "'lift.bypass' takes on and off only", "write on or off"),
        ("settings: {colour.blend: 3 dB}", "'colour.blend' takes 0 % to 100 % only", "write e.g. 100 %"),
        ("settings: {lift.level: 30 %}", "'lift.level' takes values in dB only", "write e.g. 3 dB"),
        ("settings: {off.Gain: 3 dB}", "'off' is bypassed, so 'off.Gain' changes nothing",
         "take this out, or write off.bypass: off beside it"),
        ("settings: {lift.bypass: on, air.Gain: 3 dB}", "'lift' is bypassed, so 'air.Gain' changes nothing",
         "take this out, or 'lift.bypass'"),
        ("settings: {limiter.bypass: on}", "'limiter.drive' is solved for all mixes: bypassed, nothing turns the "
         "loudness", "take the bypass out, or solve another stage"),
        ("settings: {glue.bypass: on}", "glue.attenuation is solved for on line 16: bypassed, there is none",
         "take the bypass out, or put that under 'limits'"),
        ("reach: {crest: 9 dB}", "'crest' is not reached for all mixes, so that there is nothing to solve",
         "reached here: loudness, true peak, sample peak; a bound goes under this mix's 'limits'"),
        ("reach: {loudnes: -9 LUFS}", "no measurement is called 'loudnes'", "did you mean 'loudness'?"),
        ("reach: {loudness: -14 LUFS, within: 1 LU}", "'within' is the same for all mixes: here stands the goal alone",
         "take it out, or change it under the chain file's 'reach'"),
        ("reach: {true peak: -2 dBTP}", "true peak is '-2 dBTP', which is no ceiling", "write e.g. at most -1 dBTP"),
        ("reach: {loudness: ebu-r129}", "no delivery target is called 'ebu-r129'", "did you mean 'ebu-r128'?"),
        ("limits: [crst >= 9 dB]", "no measurement is called 'crst'", "did you mean 'crest'?"),
        ("limits: [crest >= 9 dB, crest >= 10 dB]", "'crest >= 10 dB' bounds what line 3 bounds already",
         "keep one of the two"),
        ("reach: {sample peak: at most -2 dBFS}, limits: [sample peak <= -3 dBFS]",
         "'sample peak <= -3 dBFS' bounds what line 3 bounds already", "keep one of the two"),
    ],
)  # fmt: skip
def test_a_slip_is_told_with_its_remedy(told, own, what, remedy):
    assert (3, what, remedy) in told(own)


def test_what_is_landed_on_by_all_is_not_capped_for_one_nor_the_other_way_round(problems):
    text = "mix: {{file: a.wav, reach: {{sample peak: {own}}}}}\noutput: [{{name: l, plugin: B, ceiling: C}}]\n" \
           "reach: [{{sample peak: {all}, by: l.ceiling}}]\n"  # fmt: skip
    (one,) = problems(text.format(own="-2 dBFS", all="at most -1 dBFS"))
    assert one.what == "'sample peak' is a ceiling for all mixes, on line 3"
    assert one.remedy == "write sample peak: at most -2 dBFS"
    (other,) = problems(text.format(own="at most -2 dBFS", all="-1 dBFS"))
    assert other.what == "'sample peak' is landed on for all mixes, on line 3"
    assert other.remedy == "write sample peak: -2 dBFS"


@pytest.mark.parametrize("key", ["settings: {glue.Ratio: 3}", "reach: {loudness: -12 LUFS}"])
def test_what_has_its_settings_from_another_mix_has_none_of_its_own(told, key):
    name = key.partition(":")[0]
    assert told(f"settings from: a.wav, {key}") == [
        (3, f"'b.wav' has its settings from another mix, solved ones too: '{name}' has no use here",
         "take it out, or take 'settings from' out")]  # fmt: skip


def test_no_mix_brings_back_what_stands_outside_behind_what_is_solved(problems):
    text = "mix: {file: a.wav, settings: {tape.bypass: off}}\ninserts: [{name: comp, plugin: C}]\n" \
           "output: [{name: tape, outside: the machine, bypass: on}]\n" \
           "reach: [{loudness: -9 LUFS, by: comp.input trim}]\n"  # fmt: skip
    (one,) = problems(text)
    assert one.what.startswith("'tape' is outside and stands behind 'comp.input trim', which is solved")
    assert one.remedy == "leave 'tape' bypassed"


ALBUM = """mixes: [{first}, b.wav, c.wav]
output: [{{name: limiter, plugin: Brick, drive: raise Input}}]
reach: [{{loudness: -10 LUFS, by: limiter.drive}}]
"""


def test_an_album_is_asked_for_only_where_two_mixes_share_a_loudness(folder, load, problems):
    (folder / "c.wav").touch()
    own = "{{file: {}, reach: {{loudness: -12 LUFS}}}}"
    (one,) = problems(ALBUM.format(first=own.format("a.wav")))
    assert one.what == "2 mixes would all land on the same loudness"
    apart = ALBUM.format(first=own.format("a.wav")).replace("b.wav", own.format("b.wav"))
    assert len(load(apart).mixes) == 3
    (slip,) = problems(ALBUM.format(first="{file: a.wav, reach: {loudnes: -12 LUFS}}"))
    assert "loudnes" in slip.what, "who lands where is not known yet"
