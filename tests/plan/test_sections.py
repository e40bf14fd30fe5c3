"""Sections in frames at a mix's own rate, and those that a mix is too short for."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from sweeper.chain import load_chain
from sweeper.chain.model import Section
from sweeper.plan.sections import frame_ranges, match_name, too_long

TEXT = """mixes:
  - {file: a.wav, sections: {verse: "0:01-0:02", chorus: "0:03-0:04.5"}}
inserts: [{name: one, plugin: "builtin:Gain"}]
audition: {match over: [chorus]}
"""


@pytest.fixture
def chain(tmp_path: Path):
    (tmp_path / "a.wav").write_bytes(b"")
    (tmp_path / "c.yaml").write_text(TEXT)
    return load_chain(tmp_path / "c.yaml")


def with_sections(chain, *sections: tuple[str, float, float]):
    return replace(chain.mixes[0], sections=tuple(Section(*each) for each in sections))


@pytest.mark.parametrize("rate_hz", [44100, 96000])
def test_seconds_are_frames_at_the_rate_of_the_mix(chain, rate_hz):
    found = frame_ranges(chain.mixes[0], ("chorus",), rate_hz)
    assert found == {"verse": ((rate_hz, 2 * rate_hz),), "chorus": ((3 * rate_hz, rate_hz * 9 // 2),)}


def test_a_time_between_two_frames_is_the_nearer_one(chain):
    assert frame_ranges(with_sections(chain, ("x", 0.00006, 1.99999)), (), 10000) == {"x": ((1, 20000),)}


def test_several_matched_sections_are_one_stretch_of_their_own(chain):
    assert frame_ranges(chain.mixes[0], ("verse", "chorus"), 100)["verse + chorus"] == ((100, 200), (300, 450))
    found = frame_ranges(chain.mixes[0], ("chorus", "verse", "bridge"), 100)
    assert found["chorus + verse + bridge"] == ((300, 450), (100, 200)), "what this mix does not have is left out"
    assert set(found) == {"verse", "chorus", match_name(("chorus", "verse", "bridge"))}


def test_one_matched_section_goes_by_its_own_name():
    assert match_name(("chorus",)) == "chorus"
    assert match_name(()) == ""


@pytest.mark.parametrize(
    ("start_s", "end_s", "long"),
    [(0, 10, False), (0, 10.5, False), (0, 10.6, True), (9.9, 10.4, False), (10, 10.4, True), (11, 12, True)],
)
def test_half_a_second_over_the_end_is_forgiven_and_a_start_there_is_not(chain, start_s, end_s, long):
    problems = too_long(chain, with_sections(chain, ("x", start_s, end_s)), 10.0)
    assert bool(problems) is long
    for problem in problems:
        assert (problem.line, problem.file) == (chain.mixes[0].mark.line, str(chain.path))
        assert "lasts 0:10.0" in problem.what


@pytest.mark.parametrize(("length_s", "short"), [(0.399, True), (0.41, False)])
def test_a_matched_section_needs_one_block_of_loudness(chain, length_s, short):
    """400 ms: ITU-R BS.1770-5, annex 1."""
    mix = with_sections(chain, ("chorus", 1.0, 1.0 + length_s), ("verse", 1.0, 1.1))
    found = [problem.what for problem in too_long(chain, mix, 10.0)]
    assert [text.split(":")[0] for text in found] == ["section 'chorus' is shorter than 400 ms"] * short


def test_times_of_a_ride_that_lie_beyond_the_mix_are_a_problem(tmp_path):
    (tmp_path / "a.wav").write_bytes(b"")
    (tmp_path / "c.yaml").write_text(TEXT.split("audition")[0] + (
        'rides: [{name: up, set: one.input trim, by: 3 dB, in: [chorus, "9:00-9:10"]}]\n'))  # fmt: skip
    chain = load_chain(tmp_path / "c.yaml")
    (problem,) = too_long(chain, chain.mixes[0], 10.0)
    assert "the ride 'up' is to end at 9:10.0, but a.wav lasts 0:10.0" in problem.what
    assert problem.line == 4
    assert too_long(chain, chain.mixes[0], 600.0) == []
