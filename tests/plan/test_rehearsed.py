"""Which reaches excerpts are played for."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sweeper.chain import load_chain
from sweeper.meter.excerpts import pieces
from sweeper.meter.gating_blocks import Blocks
from sweeper.plan.rehearsed import LEAST_S, is_rehearsed

CHAIN = """
mix: {file: a.wav, sections: {chorus: "0:10-0:20"}}
output: {name: limiter, plugin: "builtin:BrickwallLimiter", drive: raise input trim, ceiling: ceiling db}
"""


def rehearsed(folder: Path, text: str, seconds: float = 180.0) -> bool:
    (folder / "a.wav").write_bytes(b"")
    (folder / "c.yaml").write_text(CHAIN + text)
    return is_rehearsed(load_chain(folder / "c.yaml"), seconds)


@pytest.mark.parametrize("text", [
    "reach: [{loudness: -14 LUFS, by: limiter.drive}]",
    "reach: [{loudness: -14 LUFS, by: limiter.drive, stop at: [crest >= 8 dB]}]",
    "reach: [{loudness: -14 LUFS, by: limiter.drive}, {true peak: at most -1 dBTP, by: limiter.ceiling}]",
    "reach: [{loudness: -14 LUFS, by: limiter.drive, stop at: [limiter.attenuation <= 3 dB]}]",
])
def test_loudness_peaks_and_what_is_found_inside_are_foretold(tmp_path, text):
    assert rehearsed(tmp_path, text)
    assert not rehearsed(tmp_path, text, LEAST_S - 1)


@pytest.mark.parametrize("text", [
    "",
    "reach: [{loudness range: 5 LU, by: limiter.drive}]",
    "reach: [{loudness: -14 LUFS, by: limiter.drive, stop at: [loudness range >= 5 LU]}]",
    "reach: [{loudness: -14 LUFS, by: limiter.drive}]\n"
    "rides: [{name: up, set: limiter.output trim, by: 1 dB, in: [chorus]}]",
])
def test_what_moves_in_time_or_takes_the_whole_is_not(tmp_path, text):
    assert not rehearsed(tmp_path, text)


@pytest.mark.parametrize("seconds", [LEAST_S - 2, LEAST_S + 1])
def test_the_shortest_mix_is_the_one_that_pieces_are_found_in(seconds):
    tenths = round(10 * seconds)
    assert bool(pieces(Blocks(np.ones(tenths), np.ones(tenths)))) == (seconds > LEAST_S)
