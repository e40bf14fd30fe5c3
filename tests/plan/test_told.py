"""Since when no variant was better, for one preference and for several."""

from __future__ import annotations

import pytest

from sweeper.plan.told import Told, since_better


def one(value: float | None, *violations: float, failed: bool = False) -> Told:
    return Told((value,), violations, failed)


@pytest.mark.parametrize(
    ("told", "since"),
    [
        ([], 0),
        ([one(3)], 0),
        ([one(3), one(4), one(3)], 2),
        ([one(3), one(4), one(2.9)], 0),
        ([one(3), one(1, 0.5)], 1),
        ([one(3, 2.0), one(4, 1.0), one(1, 1.5)], 1),
        ([one(3, 2.0), one(9)], 0),
        ([one(9), one(1, 0.1), one(1, 0.01)], 2),
        ([one(None), one(None, failed=True), one(5, 1.0)], 0),
        ([one(5, 1.0), one(None), one(None, failed=True)], 2),
    ],
)
def test_better_is_nearer_to_fitting_and_then_better_in_what_is_preferred(told, since):
    assert since_better(told) == since


def test_of_several_preferences_what_nobody_beats_in_all_is_better():
    told = [Told((1.0, 5.0)), Told((5.0, 1.0)), Told((3.0, 3.0)), Told((3.0, 4.0)), Told((3.0, 3.0))]
    assert [since_better(told[:count]) for count in range(1, 6)] == [0, 0, 0, 1, 2]
