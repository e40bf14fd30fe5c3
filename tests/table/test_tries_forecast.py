"""What trying on excerpts is said to take, against sums by hand and against the pieces that are really chosen."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from exploring import chain_of
from plugin_fixtures import stage

from sweeper.audio import AudioFormat, SoundFile
from sweeper.meter.excerpts import LISTENED, LONG, pieces
from sweeper.meter.gating_blocks import Blocks
from sweeper.plan.reach_terms import Direction
from sweeper.plan.variants import Turn, Variant
from sweeper.quantities import Measurements
from sweeper.render.costs import Speeds
from sweeper.render.orders import Measured
from sweeper.table.forecast import Checked
from sweeper.table.tries_forecast import played_share, with_tries

GLUE, LIMITER = stage("builtin:Compressor", name="glue"), stage("builtin:BrickwallLimiter", name="limiter")
TEXT = """mix: a.wav
inserts: {name: glue, plugin: Comp}
vary: {glue.Ratio: [2, 4]}
prefer: [crest highest]
explore: {variants: 60, listen to: excerpts}
"""
BEST = Checked((), (), ("at most 6 variants: 12 steps", "about 0:30 with 2 workers"),
               {"explore": {"method": "TPE"}, "estimated_s_median": 30.0, "estimated_s_worst": 90.0})  # fmt: skip


@pytest.mark.parametrize("seconds", [60, 64, 100, 180, 240, 400, 3600])
def test_the_share_is_that_of_the_pieces(seconds):
    powers = 1.0 + np.arange(10 * seconds) % 7
    chosen = pieces(Blocks(powers, powers), LISTENED, LONG)
    assert played_share(seconds) == pytest.approx(sum(one.length for one in chosen) / (10 * seconds), abs=0.03)


def test_every_try_plays_the_excerpts_some_times_through_its_chain_and_reads_the_mix_once(tmp_path):
    file = SoundFile(Path("a.wav"), AudioFormat(2, 44100), 100 * 44100, "WAV", "FLOAT")
    mixes = [Measured(file, Measurements({}), "")]
    speeds = Speeds(({GLUE: 0.1, LIMITER: 0.3},), (0.05,), (0.0,))
    turn = Turn(1, "input trim", "", Direction.RAISE, "limiter.drive")
    tries = [Variant(str(n), 0, {}, (GLUE, LIMITER), (turn,)) for n in range(20)]
    found = with_tries(BEST, chain_of(tmp_path, TEXT), tries, 6, mixes, speeds, workers=2)
    each_s = 100 * (0.4 * 0.28 * 3 + 0.05)  # four pieces of 7 s of 100 s, three times
    worst_s = 100 * (0.4 * 0.28 * 32 + 0.05)
    assert found.data["explore"] == {"method": "TPE", "on_excerpts": {
        "tried": 20, "rendered": 6, "share": 0.28, "estimated_s_median": pytest.approx(10 * each_s, abs=0.1),
        "estimated_s_worst": pytest.approx(10 * worst_s, abs=0.1)}}  # fmt: skip
    assert found.data["estimated_s_median"] == pytest.approx(30 + 10 * each_s, abs=0.1)
    assert found.estimate == (
        "at most 20 variants tried on excerpts, 28 % of the mix some 3 times each: about 6:26.0, at worst 60:34.0; "
        "then the best 6 rendered", "6 variants: 12 steps", "about 0:30 with 2 workers")  # fmt: skip


def test_what_is_not_solved_is_played_once(tmp_path):
    file = SoundFile(Path("a.wav"), AudioFormat(2, 44100), 100 * 44100, "WAV", "FLOAT")
    speeds = Speeds(({GLUE: 0.1},), (0.05,), (0.0,))
    found = with_tries(BEST, chain_of(tmp_path, TEXT), [Variant("1", 0, {}, (GLUE,))], 1,
                       [Measured(file, Measurements({}), "")], speeds, 1)  # fmt: skip
    assert "28 % of the mix once each: about 0:07.8; then" in found.estimate[0]


def test_looking_into_a_stage_is_counted_too(tmp_path):
    file = SoundFile(Path("a.wav"), AudioFormat(2, 44100), 100 * 44100, "WAV", "FLOAT")
    speeds, one = Speeds(({GLUE: 0.1},), (0.05,), (0.0,)), Variant("1", 0, {}, (GLUE,))
    mixes = [Measured(file, Measurements({}), "")]
    texts = (TEXT, TEXT.replace("crest highest", "glue.residue lowest"))
    plain, looked = (with_tries(BEST, chain_of(tmp_path, text), [one], 1, mixes, speeds, 1) for text in texts)
    assert looked.data["estimated_s_median"] > plain.data["estimated_s_median"] + 60 * 0.1
