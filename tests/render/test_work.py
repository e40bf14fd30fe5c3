from __future__ import annotations

from plugin_fixtures import stage

from sweeper.plan.variants import Variant
from sweeper.render.work import counted


def variant(id: str, second: str, mix: int = 0) -> Variant:
    first = stage("builtin:Gain", name="a", gain_db="1 dB")
    return Variant(id, mix, {}, (first, stage("builtin:Gain", name="b", gain_db=second)))


def test_steps_are_stages_times_passes_and_shared_ones_are_counted_as_done_again():
    found = [variant("1", "1 dB"), variant("2", "2 dB")]
    work = counted(found, {"1": 1, "2": 1}, None)
    assert (work.done, work.predicted, work.reused, work.recomputed) == (4, 4, 0, 1)


def test_passes_of_a_reach_differ_from_the_solved_stage_on():
    found = [variant("1", "1 dB"), variant("2", "2 dB")]
    work = counted(found, {"1": 3, "2": 2}, 1)
    assert (work.done, work.predicted) == (10, None)
    assert work.recomputed == 4, "the first stage once, then four times for nothing"


def test_other_mixes_share_nothing():
    work = counted([variant("1", "1 dB"), variant("2", "1 dB", mix=1)], {"1": 1, "2": 1}, None)
    assert work.recomputed == 0


def test_a_failed_variant_has_done_nothing_that_counts():
    assert counted([variant("1", "1 dB")], {}, None).done == 0
