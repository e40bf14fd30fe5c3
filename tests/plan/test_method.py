"""Which way of choosing suits which space."""

from __future__ import annotations

import pytest
from exploring import EVERYTHING, space_of

from sweeper.plan.method import Way, method_for

PLAIN = """mix: a.wav
output: {name: limiter, plugin: Brick}
vary: {limiter.Release: {from: 1 ms, to: 9 ms}, limiter.Knee: [1, 2, 3]}
prefer: [crest highest]
explore: {variants: 60}
"""
FEW = PLAIN.replace("{from: 1 ms, to: 9 ms}", "[1 ms, 2 ms, 3 ms, 4 ms]")


@pytest.mark.parametrize(
    ("text", "objectives", "variants", "way"),
    [
        (PLAIN, 1, 60, Way.TPE), (PLAIN, 1, 5000, Way.TPE), (PLAIN, 2, 60, Way.TPE), (PLAIN, 2, 99, Way.TPE),
        (PLAIN, 2, 100, Way.NSGA2), (PLAIN, 3, 400, Way.NSGA2), (PLAIN, 4, 400, Way.NSGA3),
        (EVERYTHING, 2, 400, Way.TPE), (FEW, 1, 12, Way.ALL), (FEW, 4, 5000, Way.ALL), (FEW, 1, 11, Way.TPE),
    ],
)  # fmt: skip
def test_the_way_is_chosen_for_the_space(tmp_path, text, objectives, variants, way):
    assert method_for(space_of(tmp_path, text), objectives, variants).way is way


@pytest.mark.parametrize(
    ("text", "objectives", "variants", "words"),
    [
        (PLAIN, 1, 60, "TPE: one preference, which it learns from few variants"),
        (PLAIN, 2, 60, "TPE: 60 variants are too few for generations, as methods for several preferences want them"),
        (EVERYTHING, 2, 200, "TPE: it learns what is in doubt only with some alternatives apart"),
        (PLAIN, 2, 150, "NSGA-II: 2 preferences, and variants enough for generations of 30"),
        (FEW, 1, 60, "all combinations: there are no more than 12"),
    ],
)
def test_why_is_said(tmp_path, text, objectives, variants, words):
    assert str(method_for(space_of(tmp_path, text), objectives, variants)) == words
