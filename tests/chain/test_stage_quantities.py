"""Measurements of one stage in a chain file: which stage, by the name that it has there."""

from __future__ import annotations

import pytest

from sweeper.chain.one_condition import read_condition_texts, read_preference_texts

CHAIN = """mix: a.wav
inserts:
  - {name: My Glue, plugin: A}
  - {name: reel, outside: the tape machine}
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


def test_beside_a_chain_file_a_stage_is_taken_as_it_is_written():
    (bound,) = read_condition_texts(["My Glue.residue <= -30 dB"], "--limit")
    (wish,) = read_preference_texts(["My Glue.Residue lowest"], "--prefer")
    assert bound.key == wish.key == "My Glue.residue_db"
