from __future__ import annotations

import pytest

from sweeper.chain.model import Condition, Mark
from sweeper.quantities import NO_HARMONICS, Measurements
from sweeper.verdict import judge

HERE = Mark(1, 1)


@pytest.mark.parametrize(
    ("relation", "limit", "value", "met", "margin"),
    [("<=", -1.0, -1.2, True, 0.2), ("<=", -1.0, -0.9, False, -0.1), ("<=", -1.0, -1.0, True, 0.0),
     (">=", 8.0, 9.5, True, 1.5), (">=", 8.0, 7.0, False, -1.0), (">=", 8.0, 8.0, True, 0.0)],
)  # fmt: skip
def test_a_limit_is_met_up_to_and_on_its_value(relation, limit, value, met, margin):
    condition = Condition("crest_db", relation, limit, "the limit", HERE)
    (verdict,) = judge([condition], Measurements({"crest_db": value}))
    assert verdict.met is met
    assert verdict.margin == pytest.approx(margin)
    assert verdict.limit == "the limit"


@pytest.mark.parametrize(("relation", "met"), [("<=", True), (">=", False)])
def test_a_harmonic_that_is_lost_in_noise_is_a_low_one(relation, met):
    condition = Condition("tube.third_harmonic_db", relation, -60.0, "the limit", HERE)
    (verdict,) = judge([condition], Measurements({condition.key: None}, {condition.key: NO_HARMONICS}))
    assert verdict.met is met


def test_what_was_not_measured_is_not_judged_and_says_why():
    condition = Condition("mono_loss_lu", "<=", 1.0, "mono loss <= 1 LU", HERE)
    (verdict,) = judge([condition], Measurements({"mono_loss_lu": None}, {"mono_loss_lu": "one channel"}))
    assert (verdict.met, verdict.margin, verdict.reason) == (None, None, "one channel")
