from __future__ import annotations

import pytest

from sweeper.chain import load_chain
from sweeper.plan.reach_checks import unsolvable

CHAIN = """
mix: a.wav
output:
  - {name: lim, plugin: X, channels: left/right, drive: lower Threshold, settings: {left: {%s}, right: {%s}}}
vary: {%s}
reach: [{loudness: -12 LUFS, by: %s}]
"""


def problems(tmp_path, left="Threshold: -3 dB", right="Threshold: -3 dB", vary="lim.Release: [1 ms]", by="lim.drive"):
    (tmp_path / "a.wav").write_bytes(b"")
    (tmp_path / "c.yaml").write_text(CHAIN % (left, right, vary, by))
    return [problem.what for problem in unsolvable(load_chain(tmp_path / "c.yaml"))]


def test_a_plain_reach_is_no_problem(tmp_path):
    assert problems(tmp_path) == []


def test_a_stage_that_may_be_bypassed_cannot_be_solved(tmp_path):
    (what,) = problems(tmp_path, vary="lim.bypass: [off, on]")
    assert "'vary' bypasses 'lim'" in what


@pytest.mark.parametrize(("by", "count"), [("lim.drive", 1), ("lim.threshold", 1), ("lim.left.Threshold", 0)])
def test_one_number_is_not_solved_for_sides_that_differ(tmp_path, by, count):
    assert len(problems(tmp_path, left="Threshold: -3 dB", right="Threshold: -5 dB", by=by)) == count


SEEN = """
mix: a.wav
inserts: [{name: glue, plugin: X}, {name: air, plugin: Y}]
output: [{name: lim, plugin: Z, drive: raise Input}]
vary: {%s}
reach: [{%s, by: lim.drive}]
"""


@pytest.mark.parametrize(
    ("vary", "goal", "words"),
    [("glue.bypass: [on, off]", "glue.attenuation: 2 dB", "glue.attenuation is solved for, but 'glue' is bypassed in"),
     ("sequence: [[glue, air], [air]]", "loudness: -9, stop at: [glue.residue <= -30 dB]", "'glue' is left out in"),
     ("air.bypass: [on, off]", "glue.attenuation: 2 dB", ""),
     ("sequence: [[glue, air], [air]]", "residue: -30 dB", "")],
)  # fmt: skip
def test_what_is_solved_for_is_heard_in_every_variant(tmp_path, vary, goal, words):
    (tmp_path / "a.wav").write_bytes(b"")
    (tmp_path / "c.yaml").write_text(SEEN % (vary, goal))
    found = [problem.what for problem in unsolvable(load_chain(tmp_path / "c.yaml"))]
    assert [words in what for what in found] == [True] * bool(words)


TWO = """
mix: a.wav
inserts: [{name: glue, plugin: X}, {name: air, plugin: Y}]
output: [{name: lim, plugin: Z}]
vary: {sequence: %s}
reach:
  - {loudness: -12 LUFS, by: lim.Input}
  - {crest: 9 dB, by: glue.Mix}
"""


@pytest.mark.parametrize(
    ("sequence", "places"),
    [("[[glue, air], [air, glue]]", []), ("[[glue], [air, glue]]", []), ("[[air], []]", []),
     ("[[glue], [air]]", [(8, 6)]), ("[[glue], []]", [(8, 6)])],
)  # fmt: skip
def test_a_stage_that_the_sequence_leaves_out_cannot_be_solved(tmp_path, sequence, places):
    (tmp_path / "a.wav").write_bytes(b"")
    (tmp_path / "c.yaml").write_text(TWO % sequence)
    found = unsolvable(load_chain(tmp_path / "c.yaml"))
    assert [(problem.line, problem.column) for problem in found] == places
    for problem in found:
        assert problem.what == ("'glue.Mix' is solved, but 'sequence' leaves 'glue' out: "
                                "then nothing turns the crest")  # fmt: skip
        assert problem.remedy == "name 'glue' in every order, or solve another stage"


def test_sides_that_differ_in_one_alternative_are_told(tmp_path):
    (tmp_path / "a.wav").write_bytes(b"")
    (tmp_path / "c.yaml").write_text("""
mix: a.wav
output:
  - name: lim
    channels: left/right
    any of:
      - {plugin: X, drive: raise A, settings: {A: 1}}
      - {plugin: Y, drive: raise B, settings: {left: {B: 1}, right: {B: 2}}}
reach: {loudness: -12 LUFS, by: lim.drive}
""")
    (problem,) = unsolvable(load_chain(tmp_path / "c.yaml"))
    assert problem.remedy == "set them alike, or solve 'lim.left.B' or 'lim.right.B'"


@pytest.mark.parametrize("by", ["comp.Threshold", "comp.blend", "lift.level"])
def test_a_stage_on_a_bus_that_may_be_off_cannot_be_solved(tmp_path, by):
    (tmp_path / "a.wav").write_bytes(b"")
    (tmp_path / "c.yaml").write_text(f"""
mix: a.wav
buses: [{{name: lift, level: -6 dB, inserts: [{{name: comp, plugin: X}}]}}]
vary: {{lift.bypass: [on, off]}}
reach: [{{loudness: -12 LUFS, by: {by}}}]
""")
    (what,) = (problem.what for problem in unsolvable(load_chain(tmp_path / "c.yaml")))
    assert "'vary' bypasses 'lift'" in what
