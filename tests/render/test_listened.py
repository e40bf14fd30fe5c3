"""What is handed out for excerpts, what a render learns from its own try, and mixes that excerpts cannot stand for."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from exploring import chain_of
from invented_rows import loudness_solved

from sweeper.audio import AudioFormat, SoundFile
from sweeper.errors import AudioFileError
from sweeper.plan.reach import Direction, Ending
from sweeper.quantities import Measurements
from sweeper.records import Source
from sweeper.render.job import GoalOrder, Job, MixFile, ReachOrder, Taught
from sweeper.render.listened import refuse_without_excerpts, taught_by_tries
from sweeper.render.orders import Measured

TEXT = """mix: a.wav
output: {name: limiter, plugin: Brick, drive: raise Input}
vary: {limiter.Release: {from: 1 ms, to: 2 ms}}
prefer: [crest highest]
explore: {variants: 60, listen to: excerpts}
"""
REMEDY = "write `listen to: whole` in 'explore'"
GOAL = GoalOrder("loudness_lufs", -10.0, 1, 0.1, False, "loudness")


def mixed(seconds: float, rate_hz: int = 44100, loudness: float | None = -14.0) -> Measured:
    file = SoundFile(Path("a.wav"), AudioFormat(2, rate_hz), round(seconds * rate_hz), "WAV", "FLOAT")
    return Measured(file, Measurements({"loudness_lufs": loudness}), "")


@pytest.mark.parametrize(
    ("mix", "what"),
    [
        (mixed(59.9), "a.wav lasts 0:59.9: too short for excerpts, which take 1:00.0 at least"),
        (mixed(90, 11025), "a.wav has 11025 Hz: a tenth of a second is no whole number of samples, and excerpts are "
                           "cut by tenths"),
        (mixed(90, loudness=None), "a.wav has no loudness: no excerpt stands for it"),
    ],
)  # fmt: skip
def test_a_mix_that_excerpts_cannot_stand_for_is_refused_by_name(tmp_path: Path, mix: Measured, what: str):
    with pytest.raises(AudioFileError) as raised:
        refuse_without_excerpts(chain_of(tmp_path, TEXT), [mix])
    assert (raised.value.what, raised.value.remedy) == (what, REMEDY)
    refuse_without_excerpts(chain_of(tmp_path, TEXT.replace("excerpts", "whole")), [mix])


def test_a_mix_of_a_minute_is_long_enough(tmp_path: Path):
    refuse_without_excerpts(chain_of(tmp_path, TEXT), [mixed(60)])


def job(*orders: ReachOrder) -> Job:
    mix = MixFile(Source("a.wav", "", 2, 44100, 1), (1, 1))
    return Job("001", "", mix, {}, (), orders, Path("x"), "", "", "", 60.0)


def test_a_render_starts_where_its_own_try_came_to_rest():
    order = ReachOrder(0, "Input", "", Direction.RAISE, (GOAL,))
    solved = replace(loudness_solved(at=4.5), slope=0.75)
    taught = taught_by_tries({"001": job(order), "002": job(order)}, {"001": (solved,)})
    assert taught["001"].reach[0].taught == Taught(4.5, 0.75, None)
    assert taught["002"].reach[0].taught is None, "nothing was tried"


def test_a_try_that_missed_teaches_nothing():
    order = ReachOrder(0, "Input", "", Direction.RAISE, (GOAL,))
    missed = loudness_solved(-11.0, Ending.OUT_OF_REACH)
    assert taught_by_tries({"001": job(order)}, {"001": (missed,)})["001"].reach[0].taught is None
