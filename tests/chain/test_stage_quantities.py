"""Measurements of one stage in a chain file: which stage, by the name that it has there."""

from __future__ import annotations

import pytest

from sweeper.chain.one_condition import read_condition_texts, read_preference_texts

CHAIN = """mix: a.wav
inserts:
  - {name: first, plugin: B}
  - {name: reel, outside: the tape machine, bypass: on}
  - {name: My Glue, plugin: A}
buses: [{name: lift, inserts: [{name: dense, plugin: C}]}]
output: [{name: limiter, plugin: Brick, drive: raise Input}]
"""


def test_a_stage_is_called_as_the_chain_file_calls_it(load):
    chain = load(CHAIN + "limits: [MY glue.Attenuation.most <= 3 dB, residue <= -30 dB]\n"
                 "prefer: [dense.second harmonic lowest]\n"
                 "reach: [{Limiter.attenuation: 2 dB, by: limiter.drive, stop at: [limiter.residue <= -40 dB]}]\n")
    assert [limit.key for limit in chain.limits] == ["My Glue.attenuation_most_db", "residue_db"]
    assert [wish.key for wish in chain.prefer] == ["dense.second_harmonic_db"]
    (reach,) = chain.reach
    assert (reach.key, reach.goal, [bound.key for bound in reach.stop_at]) == (
        "limiter.attenuation_db", 2, ["limiter.residue_db"])  # fmt: skip


@pytest.mark.parametrize(("named", "what"), [("lift", "is a bus"), ("reel", "stands outside")])
def test_where_there_is_nothing_to_look_into_it_is_told(problems, named, what):
    (problem,) = problems(CHAIN + f"limits: [{named}.residue <= -30 dB]\n")
    assert problem.what == f"'{named}' {what}: there is nothing to look into"


@pytest.mark.parametrize(
    ("named", "what"),
    [("first.residue", "'first' stands before 'reel', which is outside: it is not looked into"),
     ("residue", "'reel' stands outside: nothing tells the residue of the whole chain")],
)  # fmt: skip
@pytest.mark.parametrize("place", ["limits: [{} <= -30 dB]", "prefer: [{} lowest]",
                                   "reach: [{{{}: -30 dB, by: limiter.drive}}]"])  # fmt: skip
def test_what_lies_before_an_outside_stage_cannot_be_named(problems, named, what, place):
    (problem,) = problems(CHAIN.replace(", bypass: on", "") + place.format(named) + "\n")
    assert problem.what == what


@pytest.mark.parametrize("written", ["Größe", "GRÖSSE", "größe"])
def test_a_name_may_change_its_length_with_its_case(load, written):
    chain = load(CHAIN.replace("My Glue", "Größe") + f"limits: [{written}.attenuation <= 3 dB]\n")
    assert [limit.key for limit in chain.limits] == ["Größe.attenuation_db"]


def test_a_goal_that_is_none_hides_no_fault_of_its_stop_at(problems):
    goal = "limitr.attenuation: 2 dB, by: limiter.drive, stop at: [limiter.gloss <= 3 dB]"
    found = [problem.what for problem in problems(CHAIN + f"reach: [{{{goal}}}]\n")]
    assert found == ["no stage is called 'limitr'", "no measurement is called 'limiter.gloss'"]


def test_a_stage_without_a_name_is_not_the_whole_chain(problems):
    (problem,) = problems(CHAIN + "limits: [.residue <= -30 dB]\n")
    assert problem.what == "no measurement is called '.residue'"


@pytest.mark.parametrize(("goal", "within"), [("limiter.distortion: 0.5 %", 0.025), ("limiter.distortion: 0.1 %", 0.01),
                                              ("limiter.attenuation.share: 30 %", 1.0),
                                              ("limiter.attenuation: 3 dB", 0.1)])  # fmt: skip
def test_how_close_is_close_enough_goes_by_what_is_measured(load, goal, within):
    (reach,) = load(CHAIN + f"reach: [{{{goal}, by: limiter.drive}}]\n").reach
    assert reach.within == pytest.approx(within)


def test_beside_a_chain_file_a_stage_is_taken_as_it_is_written():
    (bound,) = read_condition_texts(["My Glue.residue <= -30 dB"], "--limit")
    (wish,) = read_preference_texts(["My Glue.Residue lowest"], "--prefer")
    assert bound.key == wish.key == "My Glue.residue_db"
