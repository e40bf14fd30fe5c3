"""What an exploration can choose from, and that it is asked for only what is heard."""

from __future__ import annotations

import random

import pytest
from exploring import EVERYTHING, chain_of, examined, space_of

from sweeper.chain import Number, Travel
from sweeper.plan.parameters import Between, Listed
from sweeper.plan.space import Space
from sweeper.plan.variants import VariantMaker, variants

FINITE = """mix: a.wav
inserts:
  - {name: colour, any of: [{plugin: Valve}, {plugin: Iron}]}
  - {name: glue, plugin: Comp}
vary: {glue.bypass: [off, on], glue.Ratio: [2, 4], colour.Tone: [1, 2]}
prefer: [crest highest]
explore: {variants: 60}
"""


def all_first(parameter):
    return parameter.low if isinstance(parameter, Between) else 0


@pytest.fixture
def space(tmp_path):
    return space_of(tmp_path)


def test_what_stands_to_choose(space):
    assert space.parameters == {
        "sequence": Listed("sequence", 3, structural=True),
        "any of colour": Listed("any of colour", 2, structural=True),
        "glue.bypass": Listed("glue.bypass", 2, structural=True),
        "lift.bypass": Listed("lift.bypass", 2, structural=True),
        "colour.drive (Valve)": Listed("colour.drive (Valve)", 3, ordered=True),
        "colour.drive (Iron)": Listed("colour.drive (Iron)", 3, ordered=True),
        "glue.Mode": Listed("glue.Mode", 2),
        "glue.Ratio": Listed("glue.Ratio", 3, ordered=True),
        "air.Gain": Listed("air.Gain", 2, ordered=True),
        "limiter.Release": Between("limiter.Release", 5, 500, log=True),
        "limiter.input trim": Between("limiter.input trim", 0, 3, log=False),
    }  # fmt: skip


def asked(space, **chosen):
    """The parameters that are asked for where the first is chosen of all but these."""
    named = {name.replace("_", " "): value for name, value in chosen.items()}
    return list(space.point(lambda p: named.get(p.name.replace(".", " "), all_first(p))))


def test_settings_are_asked_for_only_where_they_are_heard(space):
    always = ["limiter.Release", "limiter.input trim"]
    assert asked(space) == ["sequence", "lift.bypass", "any of colour", "colour.drive (Valve)", "air.Gain", *always]
    assert asked(space, any_of_colour=1, lift_bypass=1) == [
        "sequence", "lift.bypass", "any of colour", "colour.drive (Iron)", *always]  # fmt: skip
    assert asked(space, sequence=1) == ["sequence", "lift.bypass", "glue.bypass", "air.Gain", *always]
    assert asked(space, sequence=1, glue_bypass=1) == [
        "sequence", "lift.bypass", "glue.bypass", "glue.Mode", "glue.Ratio", "air.Gain", *always]  # fmt: skip


ON_A_BUS = """mix: a.wav
inserts: {name: eq, plugin: EQ}
buses: {name: lift, level: -6 dB, inserts: {name: colour, any of: [{plugin: Valve}, {plugin: Iron}]}}
vary: {colour.bypass: [off, on], lift.bypass: [off, on], colour.Tone: [1, 2]}
prefer: [crest highest]
explore: {variants: 60}
"""


def test_of_a_stage_or_a_bus_that_is_bypassed_no_alternative_is_asked_for(tmp_path):
    space = space_of(tmp_path, ON_A_BUS)
    assert asked(space) == ["lift.bypass", "colour.bypass", "any of colour", "colour.Tone (Valve)"]
    assert asked(space, colour_bypass=1) == ["lift.bypass", "colour.bypass"]
    assert asked(space, lift_bypass=1) == ["lift.bypass"]


def test_a_point_says_what_is_dialled(space):
    point = {"sequence": 2, "lift.bypass": 0, "glue.bypass": 1, "any of colour": 1, "colour.drive (Iron)": 2,
             "glue.Mode": 1, "glue.Ratio": 2, "air.Gain": 0, "limiter.Release": 33.333333,
             "limiter.input trim": 2.99999}  # fmt: skip
    pick = space.pick(point)
    assert (pick.sequence, pick.stages) == (2, (1, 0, 0, 0, 0))
    assert [value.text for value in pick.values] == [
        "off", "off", "3 dB", "Hard", "8", "dialled -1 dB", "33.33 ms", "3 dB"]  # fmt: skip
    assert pick.values[4] == Travel(0.75, "8")
    assert pick.values[6] == Number(33.33, "ms", "33.33 ms", near=True)


@pytest.mark.parametrize(
    "change", [{"sequence": 3}, {"glue.Ratio": 3}, {"glue.Mode": None}, {"any of colour": 2}], ids=str
)
def test_a_point_of_another_space_is_refused(space, change):
    point = {"sequence": 2, "lift.bypass": 1, "glue.bypass": 1, "any of colour": 1, "colour.drive (Iron)": 0,
             "glue.Mode": 0, "glue.Ratio": 0, "limiter.Release": 5, "limiter.input trim": 0}  # fmt: skip
    space.pick(point)
    changed = {name: number for name, number in {**point, **change}.items() if number is not None}
    with pytest.raises(ValueError, match="is not of this space"):
        space.pick(changed)


def test_rounding_never_leaves_the_range(tmp_path):
    space = space_of(tmp_path, EVERYTHING.replace("{from: 3 dB, to: 0 dB}", "{from: 1.23456 dB, to: 0 dB}"))
    trim = space.parameters["limiter.input trim"]
    point = space.point(lambda p: trim.high if p is trim else all_first(p))
    assert space.pick(point).values[-1].value == 1.23456


def test_a_range_that_one_alternative_lacks_is_not_asked_for_there(tmp_path):
    chain = chain_of(tmp_path)
    ref = next(axis.ref for axis in chain.vary if str(axis.ref) == "colour.drive")
    space = Space(chain, examined(chain, (("colour", "Iron"), ref)))
    assert "colour.drive (Iron)" not in asked(space, any_of_colour=1)


def test_every_point_of_a_finite_space_once_and_what_is_not_heard_once_only(tmp_path):
    """By hand: two alternatives of two tones each, with the compressor at two ratios or bypassed."""
    space = space_of(tmp_path, FINITE)
    found = list(space.every())
    assert space.is_finite
    assert len(found) == len({tuple(point.items()) for point in found}) == 2 * 2 * (2 + 1)


def test_every_point_makes_every_variant_of_a_sweep(tmp_path):
    chain = chain_of(tmp_path, FINITE)
    known = examined(chain)
    space, maker = Space(chain, known), VariantMaker(chain, known)
    swept = {variant.stages for variant in variants(chain, known)}
    made = [maker.made(space.pick(point), 0) for point in space.every()]
    assert len({heard for heard, _ in made}) == len(made) == len(swept)
    assert {tuple(variant.varied.items()) for _, variant in made} == {
        tuple(v.varied.items()) for v in variants(chain, known)}  # fmt: skip


def test_a_range_without_steps_cannot_be_counted(space):
    assert not space.is_finite


@pytest.mark.parametrize(
    ("text", "conditional"),
    [
        (EVERYTHING, True),
        (FINITE, True),
        (FINITE.replace("glue.bypass: [off, on], ", "").replace(", colour.Tone: [1, 2]", ""), False),
    ],
)
def test_whether_what_is_asked_hangs_on_what_was_chosen(tmp_path, text, conditional):
    assert space_of(tmp_path, text).is_conditional is conditional


def test_a_few_points_cover_every_alternative_order_and_bypass(space):
    points = space.cover()
    met = {(name, number) for point in points for name, number in point.items()}
    structural = [p for p in space.parameters.values() if isinstance(p, Listed) and p.structural]
    assert {(p.name, number) for p in structural for number in range(p.count)} <= met
    assert len(points) <= 8


def test_how_far_points_are_apart(space):
    one = {"sequence": 0, "glue.Ratio": 0, "limiter.Release": 5.0}
    assert space.apart(one, one) == (0, 0.0)
    assert space.apart(one, {**one, "glue.Ratio": 1}) == (1, 0.5)
    assert space.apart(one, {**one, "sequence": 2}) == (1, 0.0)
    assert space.apart(one, {**one, "limiter.Release": 50.0}) == (1, pytest.approx(0.5))
    assert space.apart(one, {"sequence": 0, "limiter.Release": 500.0}) == (2, pytest.approx(1.0))


def test_any_point_that_is_drawn_can_be_picked(space):
    draw = random.Random(1)
    for _ in range(200):
        space.pick(space.drawn(draw))


def test_what_is_drawn_in_even_ratios_is_as_often_below_the_middle_ratio_as_above(space):
    draw = random.Random(1)
    times = [space.drawn(draw)["limiter.Release"] for _ in range(400)]
    assert all(5 <= time <= 500 for time in times)
    assert 170 < sum(time < 50 for time in times) < 230
