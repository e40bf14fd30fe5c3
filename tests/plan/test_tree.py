"""Variants that agree up to a stage share its steps; what is heard decides the key, nothing else."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from planning import FACTS, dialled, grid, setup, solving

from sweeper.chain.model import Channels, Number, Travel
from sweeper.host.setup import Dialled, RideSetup, StageSetup
from sweeper.plan.reach import Direction
from sweeper.plan.tree import applied, outside_name, recipe, tree, variant_key
from sweeper.plan.variants import Turn, Variant


def test_a_sweep_of_the_last_three_of_six_stages_is_3_4_16_64_steps():
    """The figures of the design: 3 + 4 + 16 + 64 steps, not 384."""
    found = grid([1, 1, 1, 4, 4, 4])
    grown = tree(found, FACTS)
    by_depth = [sum(step.depth == depth for step in grown.steps.values()) for depth in range(1, 7)]
    assert by_depth == [1, 1, 1, 4, 16, 64]
    assert sum(path.length for path in grown.paths.values()) == 384


def test_bypassed_stages_are_no_steps_and_leave_the_key():
    plain = Variant("001", 0, {}, (setup("a"), setup("c")))
    bypassed = Variant("002", 0, {}, (setup("a"), replace(setup("b"), bypass=True), setup("c")))
    grown = tree([plain, bypassed], FACTS)
    assert grown.paths["001"].steps == grown.paths["002"].steps
    assert len(grown.steps) == 2
    assert variant_key(plain, FACTS) == variant_key(bypassed, FACTS)


def test_covered_counts_bypassed_stages_so_that_a_start_is_found_among_a_variants_stages():
    variant = Variant("001", 0, {}, (setup("a"), replace(setup("b"), bypass=True), setup("c"), setup("d")))
    grown = tree([variant], FACTS)
    assert [grown.steps[key].covered for key in grown.paths["001"].steps] == [1, 3, 4]


def test_from_the_first_solved_stage_on_steps_are_the_variants_own():
    grown = tree(solving([2, 2, 1], solved=1), FACTS)
    assert {len(path.steps) for path in grown.paths.values()} == {1}
    assert {path.own for path in grown.paths.values()} == {2}
    assert len(grown.steps) == 2


def test_each_mix_has_steps_of_its_own():
    two = grid([1, 2]) + [replace(v, id=f"1{v.id}", mix=1) for v in grid([1, 2])]
    assert len(tree(two, replace(FACTS, sources=("one", "two"))).steps) == 6
    assert len(tree(two, replace(FACTS, sources=("same", "same"))).steps) == 3, "the same sound is the same mix"


RIDE = RideSetup("lift", "Amount", "", Number(3, "dB", "3 dB"), True, ((1.0, 2.0),), 0.05)


@pytest.mark.parametrize("change", [
    {"amount": Number(4, "dB", "4 dB")}, {"setting": "Other"}, {"side": "mid"}, {"relative": False},
    {"spans_s": ((1.0, 2.5),)}, {"ramp_s": 0.1},
])  # fmt: skip
def test_what_changes_a_ride_changes_the_recipe(change):
    one, other = (replace(setup("a"), rides=(ride,)) for ride in (RIDE, replace(RIDE, **change)))
    assert recipe([one], FACTS) != recipe([other], FACTS)
    renamed = replace(setup("a"), rides=(replace(RIDE, name="another name"),))
    assert recipe([one], FACTS) == recipe([renamed], FACTS)


def test_two_stages_outside_are_told_apart_by_what_and_by_name():
    """Each is one sending out, with files of its own."""
    stages = outside(), outside("other"), replace(outside(), outside="a lathe")
    assert len({recipe([one], FACTS) for one in stages}) == 3


def test_of_plain_stages_the_keys_are_what_they_always_were():
    """Made by the program as it was before there were buses, rides and blend: its runs and stored renders go on."""
    plain = Variant("001", 0, {}, (setup("a"), replace(setup("b"), input_trim_db=1.5)))
    (one,) = solving([1, 1], solved=1)
    assert variant_key(plain, FACTS) == "37e512c2e82b39b31958a5ce962e9df628e0f128197fdd248a49dc56985331b1"
    assert variant_key(one, FACTS) == "451b55c30ecbb2db8d4a0af19a7d65181b7ab3f8d7210e6d7900e97d40aa1b2a"
    assert list(tree([plain], FACTS).steps) == ["5e423032e9033be89d72fdd23cc65b2b2de0dab28c3bce6307ab017de280ba73",
                                                "0ddffc7f11ec6ac27b375be0bf644855d3667b8121f0e60a8fa91ac044812fd3"]


def on_bus(name: str, *stages: StageSetup) -> tuple[StageSetup, ...]:
    fader = StageSetup(name, "", None, Channels.STEREO, (), bus=name, is_fader=True)
    return (*(replace(one, bus=name) for one in stages), fader)


def test_all_buses_together_are_one_step_whatever_they_are_called():
    stages = (setup("a"), *on_bus("lift", setup("a")), *on_bus("more", setup("b")), replace(setup("b"), output=True))
    grown = tree([Variant("001", 0, {}, stages)], FACTS)
    assert [len(step.setups) for step in grown.steps.values()] == [1, 4, 1]
    assert [step.covered for step in grown.steps.values()] == [1, 5, 6]
    renamed = (stages[0], *on_bus("x", setup("a")), *on_bus("y", setup("b")), stages[-1])
    assert set(tree([Variant("001", 0, {}, renamed)], FACTS).steps) == set(grown.steps)


def test_which_bus_a_stage_is_on_is_heard():
    one = (*on_bus("lift", setup("a"), setup("b")), *on_bus("more", setup("a")))
    other = (*on_bus("lift", setup("a")), *on_bus("more", setup("b"), setup("a")))
    assert recipe([s for s in one if not s.is_fader], FACTS) != recipe([s for s in other if not s.is_fader], FACTS)


def test_a_solved_bus_stage_takes_the_buses_out_of_the_shared_part():
    stages = (setup("a"), *on_bus("lift", setup("a"), setup("b")), setup("b"))
    turn = Turn(2, "amount", "", Direction.RAISE, "b.amount")
    (path,) = tree([Variant("001", 0, {}, stages, (turn,))], FACTS).paths.values()
    assert (len(path.steps), path.own) == (1, 2)


def outside(name="tape", **how) -> StageSetup:
    return StageSetup(name, "", None, Channels.STEREO, (), outside="the tape machine", **how)


def test_what_came_back_begins_the_way_anew_and_is_known_by_its_sound():
    variant = Variant("001", 0, {}, (setup("a"), outside(), setup("b")))
    before = [step for step in applied(variant, FACTS) if step.setups[0].outside]
    assert not before[0].is_back
    back = {outside_name(outside(), before[0].key_before): "hash of a recording"}
    grown = tree([variant], replace(FACTS, returned=back))
    assert [len(path.steps) for path in grown.paths.values()] == [2]
    first = next(iter(grown.steps.values()))
    assert (first.parent, first.covered) == ("", 2)
    other = dict.fromkeys(back, "hash of another")
    assert not set(grown.steps) & set(tree([variant], replace(FACTS, returned=other)).steps)


@pytest.mark.parametrize("change", [
    {"path": "other.vst3"}, {"state": Path("other.vstpreset")}, {"channels": Channels.MID_SIDE},
    {"input_trim_db": 1.0}, {"output_trim_db": 1.0}, {"settings": (dialled(0.25),)},
    {"settings": (replace(dialled(0.5), side="mid"),)}, {"settings": (replace(dialled(0.5), name="Other"),)},
    {"blend": 0.5}, {"tail_s": 1.0}, {"latency": Number(64, "samples", "64 samples")}, {"rides": (RIDE,)},
    {"inverted": True}, {"outside": "the tape machine", "path": ""},
])  # fmt: skip
def test_what_changes_the_sound_changes_the_recipe(change):
    assert recipe([replace(setup("a"), **change)], FACTS) != recipe([setup("a")], FACTS)


@pytest.mark.parametrize("change", [
    {"name": "renamed"}, {"label": "as called in the table"}, {"output": True},
    {"settings": (Dialled("amount", "", Travel(0.5, "the same in other words"), 0.5),)},
])  # fmt: skip
def test_what_does_not_change_the_sound_leaves_the_recipe(change):
    assert recipe([replace(setup("a"), **change)], FACTS) == recipe([setup("a")], FACTS)


@pytest.mark.parametrize("change", [
    {"sources": ("another mix",)}, {"programs": {**FACTS.programs, "a.vst3": "another build"}},
    {"block_frames": 512}, {"sound_version": 2},
])  # fmt: skip
def test_other_facts_are_other_steps(change):
    variant = Variant("001", 0, {}, (setup("a"),))
    before, after = (set(tree([variant], facts).steps) for facts in (FACTS, replace(FACTS, **change)))
    assert not before & after


def test_a_trim_counts_by_its_level_whatever_was_written():
    """One step from where a trim is dialled is more or less of it, by the drive's way; its text is the same."""
    up, down = (replace(setup("a"), settings=(Dialled("input trim", "", Number(db, "dB", "dialled +1 dB")),))
                for db in (-2.0, -4.0))  # fmt: skip
    fine = replace(setup("a"), settings=(Dialled("input trim", "", Number(-2.0000001, "dB", "-2 dB")),))
    same = replace(setup("a"), settings=(Dialled("input trim", "", Number(-2.0, "dB", "-2.0 dB")),))
    assert recipe([up], FACTS) != recipe([down], FACTS)
    assert recipe([up], FACTS) != recipe([fine], FACTS)
    assert recipe([up], FACTS) == recipe([same], FACTS)


def test_what_a_reach_turns_is_in_a_variants_key():
    (one,) = solving([1, 1], solved=1)
    other = replace(one, turns=(replace(one.turns[0], setting="Other"),))
    assert variant_key(one, FACTS) != variant_key(other, FACTS)


@given(st.lists(st.integers(1, 4), min_size=1, max_size=4))
def test_depth_first_keeps_what_shares_together(sizes: list[int]):
    """Of two variants that share a step nobody stands between who does not share it."""
    found = grid(sizes, slowest_last=True)
    grown = tree(found, FACTS)
    order = grown.depth_first()
    assert sorted(order) == sorted(v.id for v in found)
    for key in grown.steps:
        places = [place for place, id in enumerate(order) if key in grown.paths[id].steps]
        assert places == list(range(places[0], places[-1] + 1))
