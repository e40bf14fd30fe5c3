"""Proposed sections in words and as data."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from sweeper.audio import AudioFormat, SoundFile
from sweeper.cli.show_sections import data_of, lines_of, words_of
from sweeper.render.proposing import Proposal, Proposed

FILE = SoundFile(Path("mix.wav"), AudioFormat(2, 48000), 48000 * 70, "WAV", "PCM_24")
FIRST = Proposed("a1", 0.5, 65.2, -18.04, None, None, None, ("a2", "a3"), False)
LATER = Proposed("b1", 65.2, 70.0, -14.0, 4.04, 2.0, -3.0, (), True)


def test_the_lines_to_paste():
    assert lines_of(Proposal(FILE, (FIRST, LATER), ("silence up to 0:00.5 is left out",)), Path("in/mix.wav")) == [
        "# silence up to 0:00.5 is left out",
        "mix:",
        '  file: "in/mix.wav"',
        "  sections:",
        '    a1: "0:00.5-1:05.2"   # -18.0 LUFS, like a2, a3',
        '    b1: "1:05.2-1:10.0"   # -14.0 LUFS, loudest; 4.0 LU louder, more bass, darker',
    ]


def test_where_there_is_none_only_the_reason_is_left():
    assert lines_of(Proposal(FILE, (), ("no section",)), Path("mix.wav")) == ["# no section"]


@pytest.mark.parametrize(
    ("louder_lu", "bass_db", "top_db", "words"),
    [
        (-3.0, None, 4.0, "3.0 LU quieter, brighter"),
        (0.3, -2.0, 1.0, "as loud, less bass"),
        (-0.3, 1.0, None, "as loud, another spectrum"),
        (0.6, 1.0, -1.0, "0.6 LU louder"),
    ],
)
def test_what_is_told_of_a_change(louder_lu, bass_db, top_db, words):
    one = replace(LATER, louder_lu=louder_lu, more_bass_db=bass_db, more_top_db=top_db, loudest=False)
    assert words_of(one) == f"-14.0 LUFS; {words}"


def test_the_data_hold_everything():
    data = json.loads(json.dumps(data_of(Proposal(FILE, (FIRST, LATER), ("a remark",)))))
    assert (data["schema"], data["file"], data["duration_s"], data["remarks"]) == (1, "mix.wav", 70.0, ["a remark"])
    assert data["sections"][0]["alike"] == ["a2", "a3"]
    assert data["sections"][0]["louder_lu"] is None
    assert data["sections"][1]["more_top_db"] == -3.0
