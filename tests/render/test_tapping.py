"""What is measured behind a stage in passing is what its own render would measure, whatever the job started from."""

from __future__ import annotations

from dataclasses import replace
from itertools import count

import pytest
from plugin_fixtures import done, stage
from rendering import a_mix, key_of, step_job, variant_job

from sweeper.plan.reach_terms import Direction
from sweeper.render.job import GoalOrder, ReachOrder, StoredStep

GAIN = stage("builtin:Gain", name="gain", gain_db="-6 dB")
REVERB = stage("builtin:Reverb", name="room")
OUT = stage("builtin:Gain", name="out", gain_db="-1 dB")
TASK = "sweeper.render.task:render_variant"


@pytest.fixture
def rendered(pool, tmp_path):
    music, numbers = a_mix(tmp_path, 0.6), count()

    def made(stages, *reach, tapped=(), **how):
        place = tmp_path / str(next(numbers))
        place.mkdir()
        job = variant_job(music, place / "render.wav", stages, reach, **how)
        return done(pool, TASK, replace(job, tapped=tapped))

    made.music = music
    return made


def test_behind_each_stage_it_is_as_if_the_chain_ended_there(rendered):
    whole = rendered((GAIN, REVERB, OUT), tapped=(0, 1))
    assert whole.behind == (rendered((GAIN,)).measurements, rendered((GAIN, REVERB)).measurements)
    assert rendered((GAIN, REVERB, OUT)).behind == ()


def test_of_several_passes_the_last_counts(rendered):
    goal = (GoalOrder("loudness_lufs", -20.0, 1, 0.01, False, "loudness"),)
    whole = rendered((GAIN, OUT), ReachOrder(0, "output trim", "", Direction.RAISE, goal), tapped=(0,))
    assert whole.passes > 1
    behind, end = (one["loudness_lufs"] for one in (whole.behind[0], whole.measurements))
    assert behind == pytest.approx(end + 1.0, abs=0.001)


def test_from_a_stored_step_numbers_are_still_those_of_the_whole_chain(rendered, pool, tmp_path):
    start, passing = (StoredStep(tmp_path / "store", key_of(name), number) for name, number in (("a", 1), ("b", 2)))
    done(pool, "sweeper.render.step_task:render_step", step_job(rendered.music, start, (GAIN,)))
    rest = rendered((GAIN, REVERB, OUT, OUT), tapped=(2,), start=start, passing=passing)
    assert rest.behind == rendered((GAIN, REVERB, OUT, OUT), tapped=(2,)).behind
    assert rest.trouble == ""
