"""What a good file means that leaves open which plugin, in which order, and how far from where it is dialled."""

from __future__ import annotations

import pytest

from sweeper.chain import Assignment, Channels, FromDialled, Handle, Mark, Number, SettingRef, Travel

COLOUR = """\
mix: a.wav
inserts:
  - name: colour
    channels: mid/side
    input trim: 1 dB
    output trim: -1 dB
    any of:
      - {plugin: Valve Colour, state: states/valve.vstpreset, drive: raise Input, settings: {mid: {X: 1}}}
      - plugin: "builtin:Distortion"
        channels: stereo
        settings: {output trim: -3 dB}
        drive: lower input trim
      - {name: No. 3, plugin: Valve Colour, drive: raise Input}
  - {name: glue, plugin: Comp}
  - {name: air, plugin: EQ}
output: {name: limiter, plugin: Brick, drive: raise Input, ceiling: Ceiling}
"""


def test_alternatives_are_whole_stages_of_the_stages_name(load, folder):
    stage = load(COLOUR).inserts[0]
    valve, distortion, third = stage.alternatives
    assert stage.choices == stage.alternatives
    assert (stage.name, stage.plugin, stage.label, stage.plugin_mark) == ("colour", "", "", Mark(7, 5))
    assert [(a.name, a.label, a.plugin) for a in stage.alternatives] == [
        ("colour", "Valve Colour", "Valve Colour"), ("colour", "Distortion", "builtin:Distortion"),
        ("colour", "No. 3", "Valve Colour")]  # fmt: skip
    assert valve.state == folder / "states" / "valve.vstpreset"
    assert (distortion.state, third.state) == (None, None)
    assert valve.settings == (Assignment("X", Number(1, "", "1"), "mid", Mark(8, 100)),)
    assert distortion.handles == (Handle("drive", "lower", "input trim", Mark(12, 9)),)
    assert (distortion.mark, distortion.plugin_mark) == (Mark(9, 9), Mark(9, 17))
    assert third.mark == Mark(13, 16)


def test_what_stands_beside_them_holds_unless_one_says_otherwise(load):
    valve, distortion, third = load(COLOUR).inserts[0].alternatives
    assert [a.channels for a in (valve, distortion, third)] == [Channels.MID_SIDE, Channels.STEREO, Channels.MID_SIDE]
    assert [(a.input_trim_db, a.output_trim_db) for a in (valve, distortion, third)] == [(1, -1), (1, -3), (1, -1)]
    assert not any(a.bypass for a in (valve, distortion, third))


def test_bypass_beside_them_bypasses_them_all(load):
    stage = load(COLOUR.replace("    input trim: 1 dB\n", "    bypass: on\n")).inserts[0]
    assert [stage.bypass, *(a.bypass for a in stage.alternatives)] == [True] * 4


def test_a_stage_without_alternatives_is_its_own_only_choice(load):
    glue = load(COLOUR).inserts[1]
    assert (glue.alternatives, glue.choices, glue.label) == ((), (glue,), "")


def test_a_handle_is_a_handle_of_every_alternative(load):
    chain = load(COLOUR + "vary: {Colour.Drive: [0 dB, 1 dB]}\nreach: {loudness: -9 LUFS, by: limiter.drive}\n")
    assert chain.vary[0].ref == SettingRef("colour", "drive", "")
    assert (chain.sequence, chain.keep) == ((), None)


@pytest.mark.parametrize(
    ("written", "orders"),
    [
        ("[[glue], [air, Colour]]", (("glue",), ("air", "colour"))),
        ("[[], [ Glue , AIR]]", ((), ("glue", "air"))),
        ("\n    - [glue, air]\n    - [air, glue]", (("glue", "air"), ("air", "glue"))),
        ("[[glue]]", (("glue",),)),
    ],
)
def test_sequence_is_the_orders_to_try(load, written, orders):
    assert load(COLOUR + f"vary:\n  Sequence: {written}\n").sequence == orders


def test_other_settings_may_be_varied_beside_the_sequence(load):
    chain = load(COLOUR + "vary:\n  glue.Ratio: [1, 2]\n  sequence: [[glue], []]\n  air.Gain: [1 dB]\n")
    assert [str(axis.ref) for axis in chain.vary] == ["glue.Ratio", "air.Gain"]


def test_from_dialled_is_read_as_steps(load):
    chain = load(COLOUR + "vary: {glue.X: {from dialled: [-5 % travel, 0 % travel, 5% travel, -1,5 dB, '+2 dB', 3]}}\n"
                 .replace("-1,5 dB", "'-1,5 dB'"))  # fmt: skip
    assert chain.vary[0].values == (
        FromDialled(Travel(-0.05, "-5 % travel"), "dialled -5 % travel"),
        FromDialled(Travel(0.0, "0 % travel"), "as dialled"),
        FromDialled(Travel(0.05, "5% travel"), "dialled +5 % travel"),
        FromDialled(Number(-1.5, "dB", "-1,5 dB"), "dialled -1.5 dB"),
        FromDialled(Number(2, "dB", "+2 dB"), "dialled +2 dB"),
        FromDialled(Number(3, "", "3"), "dialled +3"),
    )


def test_two_measurements_are_reached_by_two_settings(load):
    chain = load(COLOUR + "reach:\n"
                 "  - {loudness: -10 LUFS, by: limiter.drive, stop at: [true peak <= -0.5 dBTP]}\n"
                 "  - {true peak: at most -1 dBTP, within: 0.2 dB, by: limiter.ceiling}\n")  # fmt: skip
    loudness, peak = chain.reach
    assert (loudness.key, loudness.goal, loudness.at_most, loudness.within) == ("loudness_lufs", -10, False, 0.1)
    assert (peak.key, peak.goal, peak.at_most, peak.within) == ("true_peak_dbtp", -1, True, 0.2)
    assert [stop.key for stop in loudness.stop_at] == ["true_peak_dbtp"]
    assert (str(peak.by), peak.stop_at, chain.limits) == ("limiter.ceiling", (), ())


@pytest.mark.parametrize(
    ("written", "key", "goal", "within", "at_most"),
    [
        ("short-term max: -8 LUFS", "short_term_max_lufs", -8, 0.1, False),
        ("momentary max: -7 LUFS, within: 0.5 dB", "momentary_max_lufs", -7, 0.5, False),
        ("loudness range: 6 LU", "loudness_range_lu", 6, 0.1, False),
        ("crest: 9 dB, within: 0.2 LU", "crest_db", 9, 0.2, False),
        ("plr: 9", "plr_db", 9, 0.1, False),
        ("rms: -12 dBFS", "rms_dbfs", -12, 0.1, False),
        ("sample peak: -1 dBFS", "sample_peak_dbfs", -1, 0.1, False),
        ("sample peak: at most -1 dBFS", "sample_peak_dbfs", -1, 0.1, True),
        ("true peak: At  most -1 dBTP", "true_peak_dbtp", -1, 0.1, True),
        ("mono loss: 1 LU", "mono_loss_lu", 1, 0.1, False),
        ("side/mid: -10 dB", "side_mid_db", -10, 0.1, False),
        ("correlation: 0.5", "correlation", 0.5, 0.02, False),
        ("balance: 0 dB", "balance_db", 0, 0.1, False),
    ],
)
def test_every_measurement_of_the_whole_can_be_reached(load, written, key, goal, within, at_most):
    (reach,) = load(COLOUR + f"reach: {{{written}, by: glue.X}}\n").reach
    assert (reach.key, reach.goal, reach.within, reach.at_most) == (key, goal, within, at_most)


def test_a_sample_peak_that_nothing_is_solved_for_is_a_limit(load):
    chain = load(COLOUR + "reach: {sample peak: at most -1 dBFS}\n")
    assert chain.reach == ()
    assert [(c.key, c.relation, c.value) for c in chain.limits] == [("sample_peak_dbfs", "<=", -1)]


def test_only_levels_of_several_mixes_need_an_album(load, problems):
    two = COLOUR.replace("mix: a.wav", "mixes: [a.wav, b.wav]")
    assert len(load(two + "reach: {crest: 9 dB, by: limiter.drive}\n").mixes) == 2
    (problem,) = problems(two + "reach: {short-term max: -9 LUFS, by: limiter.drive}\n")
    assert problem.what == "2 mixes would all land on the same short-term max"


def test_keep_is_how_many_are_kept(load):
    assert load(COLOUR + "prefer: [crest highest]\naudition: {keep: 6}\n").keep == 6
