"""Trims, levels and blend that would leave their range are told before anything is loaded."""

from __future__ import annotations

import pytest

from sweeper.chain import load_chain
from sweeper.plan.own_checks import beyond

CHAIN = """mix: a.wav
inserts: [{name: a, plugin: A, blend: 90 %, input trim: 50 dB, drive: raise blend}]
buses: [{name: lift, level: -50 dB, inserts: [{name: b, plugin: B}]}]
"""


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("vary: {a.blend: {from dialled: [0 %, 20 %]}}", "'a.blend' is dialled at 90 % and would come to 110 %"),
        ("vary: {a.drive: {from dialled: [-95 %]}}", "'a.drive' is dialled at 90 % and would come to -5 %"),
        ("vary: {a.input trim: {from dialled: [11 dB]}}", "'a.input trim' is dialled at 50 dB and would come to 61 dB"),
        ("vary: {lift.level: {from dialled: [-11 dB]}}", "'lift.level' is dialled at -50 dB and would come to -61 dB"),
        ("vary: {lift.level: [0 dB, 21 dB]}", "'lift.level' cannot be 21 dB"),
        ('rides: [{name: up, set: a.blend, by: 11 %, in: ["0:01-0:02"]}]', "would come to 101 %"),
        ('rides: [{name: up, set: lift.level, to: 25 dB, in: ["0:01-0:02"]}]', "'lift.level' cannot be 25 dB"),
        ('vary: {rides.up.by: [3 dB, 90 dB]}\nrides: [{name: up, set: lift.level, by: 3 dB, in: ["0:01-0:02"]}]',
         "'lift.level' is dialled at -50 dB and would come to 40 dB"),
        ('vary: {rides.up.to: [0 dB, 150 dB]}\nrides: [{name: up, set: a.input trim, to: 3 dB, in: ["0:01-0:02"]}]',
         "'a.input trim' cannot be 150 dB"),
        ('vary: {a.output trim: [-1 dB, 40 dB]}\nrides: [{name: up, set: a.output trim, by: 30 dB, in: ["0:01-0:02"]}]',
         "'a.output trim' is varied to 40 dB and would come to 70 dB"),
        ('vary: {lift.level: [-60 dB, 0 dB]}\nrides: [{name: up, set: lift.level, by: -1 dB, in: ["0:01-0:02"]}]',
         "'lift.level' is varied to -60 dB and would come to -61 dB"),
    ],
)  # fmt: skip
def test_what_leads_out_of_the_range_is_a_problem_at_its_place(tmp_path, text, what):
    (tmp_path / "a.wav").write_bytes(b"")
    (tmp_path / "c.yaml").write_text(CHAIN + text)
    (problem,) = beyond(load_chain(tmp_path / "c.yaml"))
    assert what in problem.what and problem.line in (4, 5)
    assert problem.remedy.startswith("it goes from")


def test_what_stays_inside_is_none(tmp_path):
    (tmp_path / "a.wav").write_bytes(b"")
    text = "vary: {a.blend: {from dialled: [-90 %, 10 %]}, lift.level: [-60 dB, 20 dB]}"
    (tmp_path / "c.yaml").write_text(CHAIN + text)
    assert beyond(load_chain(tmp_path / "c.yaml")) == []
