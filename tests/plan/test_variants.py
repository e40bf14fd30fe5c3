from __future__ import annotations

from pathlib import Path

import pytest

from sweeper.chain import load_chain
from sweeper.plan.examined import Examined
from sweeper.plan.sections import frame_ranges, match_name, too_long
from sweeper.plan.variants import variants

TEXT = """
mixes: [{file: a.wav, sections: {verse: "0:01-0:02", chorus: "0:03-0:04.5"}}, b.wav]
inserts:
  - {name: one, plugin: "builtin:Gain", settings: {gain db: -1 dB}, input trim: 2 dB}
  - {name: two, plugin: "builtin:Gain", channels: mid/side, settings: {mid: {gain db: 1 dB}, side: {gain db: 2 dB}}}
output: [{name: limiter, plugin: "builtin:BrickwallLimiter", drive: raise input trim, ceiling: ceiling db}]
vary:
  one.gain db: [-3 dB, -6 dB]
  two.side.gain db: [0 dB, 4 dB]
  limiter.drive: [1 dB]
  one.output trim: [0 dB, 1 dB]
"""
PLUGINS = Examined({("one", ""): "builtin:Gain", ("two", ""): "builtin:Gain",
                    ("limiter", ""): "builtin:BrickwallLimiter"})  # fmt: skip


@pytest.fixture
def chain(tmp_path: Path):
    for name in ("a.wav", "b.wav"):
        (tmp_path / name).write_bytes(b"")
    (tmp_path / "c.yaml").write_text(TEXT)
    return load_chain(tmp_path / "c.yaml")


def test_every_combination_for_every_mix_last_axis_fastest(chain):
    found = variants(chain, PLUGINS)
    assert [v.id for v in found] == [f"{n:03d}" for n in range(1, 17)]
    assert [v.mix for v in found] == [0] * 8 + [1] * 8
    assert [v.varied["one.output trim"] for v in found[:4]] == ["0 dB", "1 dB", "0 dB", "1 dB"]
    assert [v.varied["one.gain db"] for v in found[:8]] == ["-3 dB"] * 4 + ["-6 dB"] * 4


def test_what_is_varied_replaces_what_the_file_sets(chain):
    one, two, _ = variants(chain, PLUGINS)[2].stages
    assert [(s.name, s.value.text) for s in one.settings] == [("gain db", "-3 dB"), ("output trim", "0 dB")]
    assert [(s.side, s.value.text) for s in two.settings] == [("mid", "1 dB"), ("side", "4 dB")]


def test_handles_and_trims_reach_the_stage(chain):
    first, second = variants(chain, PLUGINS)[:2]
    assert [(s.name, s.value.text) for s in first.stages[2].settings] == [("input trim", "1 dB")]
    assert [v.stages[0].settings[-1].value.text for v in (first, second)] == ["0 dB", "1 dB"]
    assert first.stages[0].input_trim_db == 2.0


def test_the_place_of_a_variant_is_its_value_on_every_axis(chain):
    found = variants(chain, PLUGINS)
    assert [v.place for v in found[:5]] == [(0, 0, 0, 0, 0), (0, 0, 0, 0, 1), (0, 0, 1, 0, 0), (0, 0, 1, 0, 1),
                                            (0, 1, 0, 0, 0)]  # fmt: skip
    assert found[8].place == (1, 0, 0, 0, 0)


def test_sections_become_frames_and_several_matched_ones_are_joined(chain):
    ranges = frame_ranges(chain.mixes[0], ["verse", "chorus"], 48000)
    assert ranges["chorus"] == ((144000, 216000),)
    assert ranges[match_name(["verse", "chorus"])] == ((48000, 96000), (144000, 216000))


def test_a_section_beyond_the_mix_is_a_problem_at_its_place(chain):
    (problem,) = too_long(chain, chain.mixes[0], 3.9)
    assert "section 'chorus' ends at 0:04.5, but a.wav lasts 0:03.9" in problem.what
    assert too_long(chain, chain.mixes[0], 4.5) == []


def test_varying_one_side_leaves_what_was_set_for_all_on_the_others(tmp_path):
    (tmp_path / "a.wav").write_bytes(b"")
    (tmp_path / "d.yaml").write_text("""
mix: a.wav
inserts: [{name: eq, plugin: "builtin:Gain", channels: mid/side, settings: {gain db: 0 dB}}]
vary: {eq.side.gain db: [1 dB, 2 dB]}
""")
    first, _ = variants(load_chain(tmp_path / "d.yaml"), Examined({("eq", ""): "builtin:Gain"}))
    assert [(s.side, s.value.text) for s in first.stages[0].settings] == [("mid", "0 dB"), ("side", "1 dB")]
