"""The trade-off fronts, held against what Pareto dominance says of every pair."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweeper.verdict.front import dominates, fronts

numbers = st.integers(0, 4).map(float)


def peeled(points):
    """The fronts one after the other: those that no other of the rest dominates, taken away, and so on."""
    left, found, number = set(range(len(points))), {}, 0
    while left:
        number += 1
        front = {a for a in left if not any(
            all(points[b][k] <= points[a][k] for k in range(len(points[a])))
            and any(points[b][k] < points[a][k] for k in range(len(points[a]))) for b in left)}  # fmt: skip
        found |= dict.fromkeys(front, number)
        left -= front
    return tuple(found[n] for n in range(len(points)))


@pytest.mark.parametrize("count", [1, 2, 3])
@given(data=st.data())
def test_fronts_are_what_is_left_when_the_undominated_are_taken_away_in_turn(count, data):
    points = data.draw(st.lists(st.tuples(*[numbers] * count), max_size=25))
    assert fronts(points) == peeled(points)


def test_equals_share_a_front_and_dominate_nobody():
    assert fronts([(1.0, 2.0), (1.0, 2.0), (2.0, 1.0), (2.0, 2.0)]) == (1, 1, 1, 2)
    assert not dominates((1.0, 2.0), (1.0, 2.0))
    assert dominates((1.0, 2.0), (1.0, 3.0))
    assert not dominates((1.0, 3.0), (2.0, 1.0))


def test_what_is_missing_is_behind_everything_even_where_it_is_best_in_the_rest():
    assert fronts([(math.inf, -9.0), (5.0, 5.0), (6.0, 6.0), (math.inf, 0.0)]) == (3, 1, 2, 4)
    assert fronts([(math.inf, 2.0), (math.inf, 1.0)]) == (2, 1)
