"""Looking inside a variant while it is rendered: the same whatever the store holds; nothing of the render changes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from plugin_fixtures import done, stage
from rendering import a_mix, key_of, step_job, variant_job

from sweeper.chain.model import Number
from sweeper.host.setup import RideSetup
from sweeper.plan.reach import Direction
from sweeper.quantities import NO_HARMONICS, Measurements
from sweeper.quantities.measurements import LOST_DB
from sweeper.render.inside import BYPASSED, InsideOrder
from sweeper.render.job import GoalOrder, Look, ReachOrder, StoredStep

RENDER = "sweeper.render.task:render_variant"
LOOKS = (Look(1), Look(None, music=False), Look(2, tone=False))


@pytest.fixture
def chain(probes):
    ride = RideSetup("up", "input trim", "", Number(6.0, "dB", "6 dB"), True, ((0.5, 1.0),), 0.1)
    return (stage(probes["gain"], name="lift", Gain="6 dB"),
            replace(stage(probes["shaper"], name="colour", Second="0.2"), rides=(ride,)),
            stage(probes["limiter"], name="last", Drive="6 dB"))  # fmt: skip


def test_what_is_found_does_not_depend_on_where_the_render_starts(pool, tmp_path, chain):
    music = a_mix(tmp_path, 2.0)
    stored = StoredStep(tmp_path / "store", key_of("two"), 2)
    done(pool, "sweeper.render.step_task:render_step", step_job(music, stored, chain[:2]))
    made = []
    for name, start, looks in (("a", None, LOOKS), ("b", stored, LOOKS), ("c", stored, ())):
        (tmp_path / name).mkdir()
        job = variant_job(music, tmp_path / name / "render.wav", chain, start=start)
        made.append(done(pool, RENDER, replace(job, looks=looks)))
    from_mix, from_store, unseen = made
    assert from_mix.measurements == from_store.measurements
    assert from_mix.audio_sha256 == from_store.audio_sha256 == unseen.audio_sha256
    assert [s.settings for s in from_mix.stages] == [s.settings for s in unseen.stages]
    assert (from_mix.passes, from_store.steps, from_mix.steps) == (1, 1, 3)
    more = {key: value for key, value in from_mix.measurements.values.items() if key not in unseen.measurements.values}
    apart = done(pool, "sweeper.render.inside_task:look_inside", InsideOrder(music, chain, LOOKS, 60.0))
    wanted: dict[str, float | None] = {}
    for seen, look in zip(apart.seen, LOOKS, strict=True):
        wanted |= seen.findings(look)[0]
    assert more == pytest.approx(wanted, abs=1e-6), "rides rest in both"


def test_a_reach_is_held_against_what_is_found_after_every_pass(pool, tmp_path, chain):
    (tmp_path / "v").mkdir()
    order = ReachOrder(2, "Drive", "", Direction.RAISE, (
        GoalOrder("last.attenuation_db", 3.0, 1, 0.05, False, "last.attenuation 3"),))  # fmt: skip
    job = variant_job(a_mix(tmp_path, 2.0), tmp_path / "v" / "render.wav", chain, reach=(order,))
    job = replace(job, looks=LOOKS[2:], looks_each_pass=LOOKS[2:], unseen={"gone.residue_db": BYPASSED})
    made = done(pool, RENDER, job)
    found = made.measurements
    assert made.solved[0].value == found.values["last.attenuation_db"] == pytest.approx(3.0, abs=0.05)
    assert (found.values["gone.residue_db"], found.reasons["gone.residue_db"]) == (None, BYPASSED)


def test_a_harmonic_lost_in_noise_is_no_silence_to_a_reach():
    key = "a.second_harmonic_db"
    assert Measurements({key: None}, {key: NO_HARMONICS}).compared(key) == LOST_DB
    assert Measurements({key: None}, {key: BYPASSED}).compared(key) is None
    assert Measurements({key: np.pi}, {}).compared(key) == np.pi
