"""One variant taken apart: every chain once, what can still be solved, and what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweeper.chain import load_chain
from sweeper.errors import ChainFileError
from sweeper.plan.examined import Examined
from sweeper.plan.picked import picked
from sweeper.plan.taken_apart import FULL, MIX, taken_apart
from sweeper.plan.teachers import teachers
from sweeper.plan.variants import variants

GAIN, LIMITER = '"builtin:Gain"', '"builtin:BrickwallLimiter"'
STAGES = ("eq", "glue", "limiter", "air", "lift", "lift-comp", "wide", "tape", "off")
PLUGINS = Examined({(name, ""): "" if name in ("lift", "wide", "tape") else f"builtin:{name}" for name in STAGES})
LINE = f"""
mixes: [a.wav, b.wav]
inserts: [{{name: eq, plugin: {GAIN}}}, {{name: off, plugin: {GAIN}, bypass: on}}, {{name: glue, plugin: {GAIN}}}]
output: [{{name: limiter, plugin: {LIMITER}, drive: raise input trim, ceiling: ceiling db}}]
vary: {{eq.gain db: [-1 dB, -2 dB]}}
"""
SOLVED = """album: each to target
reach:
  - {loudness: -10 LUFS, by: limiter.drive, stop at: [glue.attenuation <= 3 dB, crest >= 6 dB]}
  - {true peak: at most -1 dBTP, by: limiter.ceiling}
"""


@pytest.fixture
def read(tmp_path: Path):
    def chain(text: str):
        for name in ("a.wav", "b.wav"):
            (tmp_path / name).write_bytes(b"")
        (tmp_path / "c.yaml").write_text(text)
        return load_chain(tmp_path / "c.yaml")

    return chain


def apart(chain, number=None):
    return taken_apart(chain, picked(chain, variants(chain, PLUGINS), number, None))


def heard(taken) -> dict[str, list[str]]:
    return {v.id: [setup.name for setup in v.stages if not setup.bypass] for v in taken.variants}


def test_chains_that_end_early_and_chains_without_a_stage_each_once(read):
    taken = apart(read(LINE))
    assert heard(taken) == {"full": ["eq", "glue", "limiter"], "after 1": ["eq"], "after 2": ["eq", "glue"],
                            "without 1": ["glue", "limiter"], "without 2": ["eq", "limiter"]}  # fmt: skip
    assert [(place.names, place.id) for place in taken.behind] == [
        (("eq",), "after 1"), (("glue",), "after 2"), (("limiter",), FULL)]  # fmt: skip
    assert [(part.name, part.id) for part in taken.without] == [
        ("eq", "without 1"), ("glue", "without 2"), ("limiter", "after 2")]  # fmt: skip
    assert taken.tapped == ()


def test_what_a_reach_turns_goes_with_its_stage_and_so_do_bounds_on_one_that_is_gone(read):
    taken = apart(read(LINE + SOLVED))
    assert [part.dropped for part in taken.without] == [(), (), ("loudness_lufs", "true_peak_dbtp")]
    bounds = {id: [[bound.text for bound in reach.stop_at] for reach in each] for id, each in taken.reaches.items()}
    assert bounds[FULL] == bounds["without 1"] == [["glue.attenuation <= 3 dB", "crest >= 6 dB"], []]
    assert bounds["without 2"] == [["crest >= 6 dB"], []]
    assert bounds["after 2"] == []
    turns = {variant.id: len(variant.turns) for variant in taken.variants}
    assert turns == {FULL: 2, "after 1": 0, "after 2": 0, "without 1": 2, "without 2": 2}


def test_everybody_that_solves_the_same_starts_from_the_full_chain(read):
    taught_by = teachers(apart(read(LINE + SOLVED)).variants)
    assert taught_by == {FULL: None, "after 1": None, "after 2": None, "without 1": FULL, "without 2": FULL}


def test_behind_what_is_solved_only_the_full_render_passes(read):
    taken = apart(read(LINE + "album: each to target\nreach: [{loudness: -10 LUFS, by: eq.input trim}]\n"))
    assert [place.id for place in taken.behind] == [None, None, FULL]
    assert taken.tapped == (0, 2), "the numbers of eq and glue; the bypassed one between them is none"


def test_a_bus_is_one_step_and_one_part(read):
    taken = apart(read(f"""
mix: a.wav
inserts: [{{name: eq, plugin: {GAIN}}}]
buses:
  - {{name: lift, level: -12 dB, inserts: [{{name: lift-comp, plugin: {GAIN}}}]}}
  - {{name: wide, level: -20 dB, inserts: [{{name: air, plugin: {GAIN}}}]}}
output: [{{name: limiter, plugin: {LIMITER}, drive: raise input trim}}]
"""))  # fmt: skip
    assert [place.names for place in taken.behind] == [("eq",), ("lift", "wide"), ("limiter",)]
    assert [(part.name, part.is_bus) for part in taken.without] == [
        ("eq", False), ("lift", True), ("wide", True), ("limiter", False)]  # fmt: skip
    assert heard(taken)["without 2"] == ["eq", "air", "wide", "limiter"]


def test_without_its_only_stage_the_mix_is_left(read):
    taken = apart(read(f"mix: a.wav\ninserts: [{{name: eq, plugin: {GAIN}}}]\n"
                       "reach: [{loudness: -10 LUFS, by: eq.input trim}]\n"))  # fmt: skip
    assert [(part.id, part.dropped) for part in taken.without] == [(MIX, ("loudness_lufs",))]
    assert [variant.id for variant in taken.variants] == [FULL]


def test_the_variant_goes_by_its_number_or_is_the_first_of_a_mix(read):
    chain = read(LINE)
    found = variants(chain, PLUGINS)
    ids = [picked(chain, found, *asked).id for asked in ((None, None), (2, None), (None, "b.wav"), (None, "2"))]
    assert ids == ["001", "002", "003", "003"]
    with pytest.raises(ChainFileError, match="there is no variant 5\n    it asks for 001 to 004"):
        picked(chain, found, 5, None)
    with pytest.raises(ChainFileError, match=r"no mix is called 'c.wav'\n    did you mean"):
        picked(chain, found, None, "c.wav")


def test_sound_that_is_sent_out_and_a_chain_that_is_not_heard_are_refused(read):
    sent = read(f"mix: a.wav\ninserts: [{{name: eq, plugin: {GAIN}}}, {{name: tape, outside: the machine}}]\n")
    with pytest.raises(ChainFileError, match=r"c\.yaml:2:.*'tape' is outside.*\n    bypass it"):
        apart(sent)
    silent = read(f"mix: a.wav\ninserts: [{{name: eq, plugin: {GAIN}, bypass: on}}]\n")
    with pytest.raises(ChainFileError, match="variant 001 has no stage that is heard"):
        apart(silent)
