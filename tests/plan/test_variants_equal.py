"""Variants of chains that leave open which plugin is in and in which order; equal ones are one."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweeper.chain import Chain, FromDialled, Number, Travel, load_chain
from sweeper.host.question import Found
from sweeper.plan.examined import Examined
from sweeper.plan.reach import Direction
from sweeper.plan.variants import Variant, variants

COLOUR = """
mix: a.wav
inserts:
  - name: colour
    any of:
      - {plugin: Valve, drive: raise Input, settings: {Warmth: 1}}
      - {plugin: Iron, drive: lower Threshold, input trim: 1 dB}
  - {name: glue, plugin: Comp}
  - {name: air, plugin: EQ}
output: {name: limiter, plugin: Brick, drive: raise Input, ceiling: Ceiling}
"""


@pytest.fixture
def load(tmp_path: Path):
    (tmp_path / "a.wav").write_bytes(b"")
    (tmp_path / "b.wav").write_bytes(b"")

    def loaded(text: str) -> Chain:
        (tmp_path / "c.yaml").write_text(text)
        return load_chain(tmp_path / "c.yaml")

    return loaded


def examined(chain: Chain, **more: object) -> Examined:
    """The chain's plugins, each under its own name."""
    paths = {(choice.name, choice.label): choice.plugin for stage in chain.stages for choice in stage.choices}
    return Examined(paths, **more)  # type: ignore[arg-type]


def found(chain: Chain, **more: object) -> tuple[Variant, ...]:
    return variants(chain, examined(chain, **more))


def plugins(variant: Variant) -> list[str]:
    return [stage.path for stage in variant.stages]


def test_every_alternative_is_a_variant_with_its_own_settings(load):
    valve, iron = found(load(COLOUR))
    assert (plugins(valve), plugins(iron)) == (["Valve", "Comp", "EQ", "Brick"], ["Iron", "Comp", "EQ", "Brick"])
    assert (valve.varied, iron.varied) == ({"colour": "Valve"}, {"colour": "Iron"})
    assert [(s.name, s.label) for s in (valve.stages[0], iron.stages[0])] == [("colour", "Valve"), ("colour", "Iron")]
    assert [len(s.settings) for s in (valve.stages[0], iron.stages[0])] == [1, 0]
    assert [s.input_trim_db for s in (valve.stages[0], iron.stages[0])] == [0, 1]


def test_a_handle_is_followed_in_each_alternative(load):
    chain = load(COLOUR + "vary: {colour.drive: [3]}\n")
    assert [v.stages[0].settings[-1].name for v in found(chain)] == ["Input", "Threshold"]


def test_axes_from_the_slowest_to_the_fastest(load):
    text = COLOUR.replace("mix: a.wav", "mixes: [a.wav, b.wav]")
    two = found(load(text + "vary: {air.X: [1, 2], sequence: [[glue], [air, glue]], glue.Y: [1, 2]}\n"))
    assert [v.id for v in two] == [f"{n:03d}" for n in range(1, 25)]  # air.X is not heard where air is out
    assert [(v.mix, *v.varied.values()) for v in two[:8]] == [
        (0, "glue", "Valve", "1"), (0, "glue", "Valve", "2"), (0, "glue", "Iron", "1"), (0, "glue", "Iron", "2"),
        (0, "air > glue", "Valve", "1", "1"), (0, "air > glue", "Valve", "1", "2"),
        (0, "air > glue", "Valve", "2", "1"), (0, "air > glue", "Valve", "2", "2")]  # fmt: skip
    assert list(two[4].varied) == ["sequence", "colour", "air.X", "glue.Y"]
    assert list(two[0].varied) == ["sequence", "colour", "glue.Y"]
    assert two[3].place == (0, 0, 1, 0, 1)  # mix, sequence, colour, air.X, glue.Y
    assert two[7].place == (0, 1, 0, 1, 1)
    assert [v.mix for v in two] == [0] * 12 + [1] * 12


@pytest.mark.parametrize(
    ("order", "stages", "text"),
    [
        ("[glue, air]", ["glue", "middle", "air"], "glue > air"),
        ("[air, glue]", ["air", "middle", "glue"], "air > glue"),
        ("[air]", ["air", "middle"], "air"),
        ("[]", ["middle"], "none"),
    ],
)
def test_the_kth_of_an_order_takes_the_place_of_the_kth_that_may_move(load, order, stages, text):
    """glue and air may move, middle stands still between them."""
    chain = load("mix: a.wav\ninserts: [{name: glue, plugin: G}, {name: middle, plugin: M}, {name: air, plugin: A}]\n"
                 f"output: {{name: end, plugin: E}}\nvary: {{sequence: [[glue, middle, air], {order}]}}\n"
                 .replace("[glue, middle, air]", "[glue, air]" if order != "[glue, air]" else "[air]"))  # fmt: skip
    (variant,) = [v for v in found(chain) if v.varied["sequence"] == text]
    assert [stage.name for stage in variant.stages] == [*stages, "end"]


def test_orders_that_differ_only_in_what_is_bypassed_are_one_variant(load):
    text = COLOUR.replace("plugin: EQ", "plugin: EQ, bypass: on")
    one, other = found(load(text + "vary: {sequence: [[glue, air], [air, glue], [glue]]}\n"))
    assert [v.varied for v in (one, other)] == [{"sequence": "glue > air", "colour": "Valve"},
                                               {"sequence": "glue > air", "colour": "Iron"}]  # fmt: skip
    assert [s.bypass for s in one.stages] == [False, False, True, False]


def test_what_a_bypassed_stage_would_be_set_to_is_no_difference(load):
    three = found(load(COLOUR.replace("any of", "bypass: off\n    any of") + "vary: {colour.bypass: [on, off]}\n"))
    assert [v.varied for v in three] == [
        {"colour.bypass": "on"}, {"colour": "Valve", "colour.bypass": "off"},
        {"colour": "Iron", "colour.bypass": "off"}]  # fmt: skip
    five = found(load(COLOUR + "vary: {glue.X: [1, 2], glue.bypass: [off, on]}\n"))
    assert [list(v.varied.values()) for v in five if v.varied["colour"] == "Valve"] == [
        ["Valve", "1", "off"], ["Valve", "on"], ["Valve", "2", "off"]]  # fmt: skip


def test_two_labels_of_one_plugin_set_alike_are_one_variant(load):
    text = "mix: a.wav\noutput:\n  - name: c\n    any of: [{name: one, plugin: P%s}, {name: two, plugin: P%s}]\n"
    assert [v.varied for v in found(load(text % ("", "")))] == [{"c": "one"}]
    assert len(found(load(text % (", settings: {X: 1}", ", settings: {X: 2}")))) == 2
    assert len(found(load(text % (", input trim: 1 dB", "")))) == 2
    assert len(found(load(text % (", channels: mid/side", "")))) == 2
    assert len(found(load(text % (", state: a.wav", ", state: b.wav")))) == 2


def test_alike_stages_under_two_names_in_either_order_are_one_variant(load):
    text = "mix: a.wav\ninserts: [{name: one, plugin: P%s}, {name: two, plugin: P}]\nvary: {sequence: [[one], [two]]}\n"
    assert [v.varied for v in found(load(text % ""))] == [{"sequence": "one"}]
    assert len(found(load(text % ", settings: {X: 1}"))) == 2


def test_values_found_at_one_position_are_one_variant(load):
    chain = load("mix: a.wav\noutput: {name: lim, plugin: P}\nvary: {lim.X: [50 % travel, 0 dB, 1 dB]}\n")
    middle, zero, one = chain.vary[0].values
    there = {(("lim", ""), "X", "", value): Found("X Gain", raw)
             for value, raw in ((middle, 0.5), (zero, 0.5), (one, 0.6))}  # fmt: skip
    first, second = found(chain, found=there)
    assert [v.varied["lim.X"] for v in (first, second)] == ["50 % travel", "1 dB"]
    assert [(s.name, s.raw) for v in (first, second) for s in v.stages[0].settings] == [
        ("X Gain", 0.5), ("X Gain", 0.6)]  # fmt: skip


def test_settings_of_the_file_get_their_positions_too(load):
    chain = load("mix: a.wav\noutput: {name: lim, plugin: P, settings: {x gain: 3 dB}}\n")
    (setting,) = chain.output[0].settings
    (variant,) = found(chain, found={(("lim", ""), "x gain", "", setting.value): Found("X Gain", 0.25)})
    (dialled,) = variant.stages[0].settings
    assert (dialled.name, dialled.value, dialled.raw) == ("X Gain", Number(3, "dB", "3 dB"), 0.25)


def test_a_setting_that_one_alternative_lacks_is_varied_in_the_other(load):
    chain = load(COLOUR + "vary: {colour.Bias: [1, 2]}\n")
    lacking = frozenset({(("colour", "Iron"), chain.vary[0].ref)})
    assert [v.varied for v in found(chain, lacking=lacking)] == [
        {"colour": "Valve", "colour.Bias": "1"}, {"colour": "Valve", "colour.Bias": "2"},
        {"colour": "Iron"}]  # fmt: skip


STEPS = "mix: a.wav\noutput: {name: eq, plugin: P, channels: mid/side, output trim: -1 dB%s}\n"


def test_steps_from_where_a_setting_is_dialled_become_positions(load):
    chain = load(STEPS % "" + "vary: {eq.X: {from dialled: [0 dB, 1 dB]}}\n")
    same, more = chain.vary[0].values
    key = ("eq", "")
    first, second = found(chain, found={
        (key, "X", "mid", same): Found("X", 0.5), (key, "X", "side", same): Found("X", 0.5),
        (key, "X", "mid", more): Found("X", 0.6), (key, "X", "side", more): Found("X", 0.7)})  # fmt: skip
    assert [(s.side, s.value, s.raw) for s in first.stages[0].settings] == [("", Travel(0.5, "as dialled"), 0.5)]
    assert [(s.side, s.value, s.raw) for s in second.stages[0].settings] == [
        ("mid", Travel(0.6, "dialled +1 dB"), 0.6), ("side", Travel(0.7, "dialled +1 dB"), 0.7)]  # fmt: skip
    assert [v.varied["eq.X"] for v in (first, second)] == ["as dialled", "dialled +1 dB"]


def test_a_trim_steps_from_where_the_file_has_it(load):
    chain = load(STEPS % ", drive: raise input trim, input trim: 2 dB"
                 + "vary: {eq.output trim: {from dialled: [-0.5 dB]}, eq.drive: {from dialled: [1]}}\n")  # fmt: skip
    (variant,) = found(chain)
    assert [(s.name, s.value) for s in variant.stages[0].settings] == [
        ("output trim", Number(-1.5, "dB", "dialled -0.5 dB")),
        ("input trim", Number(3, "dB", "dialled +1"))]  # fmt: skip
    assert all(not isinstance(s.value, FromDialled) for s in variant.stages[0].settings)


def test_what_is_solved_is_told_for_each_variant(load):
    chain = load(COLOUR + "vary: {sequence: [[glue, air], [air]]}\n"
                 "reach: [{loudness: -9 LUFS, by: limiter.drive}, {crest: 9 dB, by: colour.drive}]\n")  # fmt: skip
    turns = [v.turns for v in found(chain)]
    assert [(turn[0].stage, turn[0].setting, turn[0].text) for turn in turns] == [
        (3, "Input", "limiter.drive"), (3, "Input", "limiter.drive"),
        (2, "Input", "limiter.drive"), (2, "Input", "limiter.drive")]  # fmt: skip
    assert [(turn[1].stage, turn[1].setting, turn[1].direction) for turn in turns] == [
        (0, "Input", Direction.RAISE), (0, "Threshold", Direction.LOWER)] * 2  # fmt: skip


def test_variants_that_solve_different_controls_are_not_equal(load):
    text = "mix: a.wav\noutput:\n  - name: c\n    any of: [{name: one, plugin: P, drive: raise A}, %s]\n"
    reach = "reach: {loudness: -9 LUFS, by: c.drive}\n"
    assert len(found(load(text % "{name: two, plugin: P, drive: raise A}" + reach))) == 1
    assert len(found(load(text % "{name: two, plugin: P, drive: raise B}" + reach))) == 2
