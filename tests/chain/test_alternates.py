"""Mixes that have another mix's settings: named in any usual way, and every slip is told."""

from __future__ import annotations

from pathlib import Path

import pytest

from sweeper.chain import load_chain
from sweeper.chain.model import Section
from sweeper.errors import ChainFileError
from sweeper.plan.examine import Examined
from sweeper.plan.picked import picked
from sweeper.plan.variants import variants

CHAIN = """
mixes: [{main}, {alternate}, other.wav]
album: each to target
output: [{{name: limiter, plugin: "builtin:BrickwallLimiter", drive: raise input trim}}]
vary: {{limiter.release ms: [20 ms, 90 ms]}}
reach: [{{loudness: -12 LUFS, by: limiter.drive}}]
prefer: [crest highest]
{more}
"""
MAIN = '{file: song.wav, sections: {chorus: "0:01-0:02"}}'


@pytest.fixture
def read(tmp_path: Path):
    for name in ("song.wav", "song instrumental.wav", "other.wav"):
        (tmp_path / name).write_bytes(b"")

    def load(alternate: str, main: str = MAIN, more: str = ""):
        (tmp_path / "c.yaml").write_text(CHAIN.format(main=main, alternate=alternate, more=more))
        return load_chain(tmp_path / "c.yaml")

    return load


@pytest.mark.parametrize("name", ["song.wav", "song"])
def test_an_alternate_knows_its_main_mix_and_has_its_sections(read, name):
    chain = read(f"{{file: song instrumental.wav, settings from: {name}}}")
    assert [chain.main_of(number) for number in range(3)] == [None, 0, None]
    assert chain.mixes[1].sections == (Section("chorus", 1.0, 2.0),)
    own = read(f'{{file: song instrumental.wav, settings from: {name}, sections: {{intro: "0:00-0:01"}}}}')
    assert own.mixes[1].sections == (Section("intro", 0.0, 1.0),)


@pytest.mark.parametrize(
    ("alternate", "main", "what", "remedy"),
    [
        ("{file: song instrumental.wav, settings from: sonk.wav}", MAIN,
         "'settings from' names no mix of this file: 'sonk.wav'", "did you mean 'song.wav'?"),
        ("{file: song instrumental.wav, settings from: song instrumental.wav}", MAIN,
         "'song instrumental.wav' is to have its settings from itself", "name the main mix"),
        ("{file: song instrumental.wav, settings from: song.wav}", "{file: song.wav, settings from: other.wav}",
         "'song.wav' has its own settings from 'other.wav'", "write settings from: other.wav"),
    ],
)  # fmt: skip
def test_a_slip_is_told_with_its_remedy(read, alternate, main, what, remedy):
    with pytest.raises(ChainFileError) as caught:
        read(alternate, main)
    (problem,) = caught.value.problems
    assert problem.what == what
    assert remedy in problem.remedy
    assert problem.line == 2


def test_an_exploration_is_not_rendered_with_alternates(read):
    with pytest.raises(ChainFileError, match="everything that 'explore' tries"):
        read("{file: song instrumental.wav, settings from: song.wav}", more="explore: {variants: 2}")


def test_a_main_mix_and_its_alternate_share_a_loudness_without_an_album(read, tmp_path):
    text = CHAIN.format(main=MAIN, alternate="{file: song instrumental.wav, settings from: song}", more="")
    (tmp_path / "c.yaml").write_text(text.replace(", other.wav", "").replace("album: each to target\n", ""))
    assert len(load_chain(tmp_path / "c.yaml").mixes) == 2


def test_what_has_its_settings_from_another_mix_is_not_taken_apart(read):
    chain = read("{file: song instrumental.wav, settings from: song.wav}")
    found = variants(chain, Examined({("limiter", ""): "builtin:BrickwallLimiter"}))
    assert picked(chain, found, 2, None).id == "002"
    with pytest.raises(ChainFileError, match="variant 003 has the settings of another mix") as caught:
        picked(chain, found, 3, None)
    assert "name one of song.wav" in str(caught.value)
