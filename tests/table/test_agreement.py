"""How far the order on excerpts agrees with that of the whole: worked out here pair by pair, and said honestly."""

from __future__ import annotations

import itertools
import math
import random
from dataclasses import replace
from pathlib import Path

import pytest
from exploring import chain_of
from invented_rows import failed, measured, row

from sweeper.table.agreement import Agreement, agreements, excerpts_data, excerpts_words
from sweeper.table.row import OnExcerpts, Row

TEXT = """mixes: [a.wav, b.wav]
output: {name: limiter, plugin: Brick}
vary: {limiter.Release: {from: 1 ms, to: 2 ms}}
prefer: [crest highest]
explore: {variants: 60, listen to: excerpts}
"""


def _sign(number: float) -> int:
    return (number > 0) - (number < 0)


def tau_b(pairs: list[tuple[float, float]]) -> float:
    """Kendall's tau-b from its definition: concordant less discordant pairs over the geometric mean of the pairs that
    are no tie in the one and in the other (M. G. Kendall, The treatment of ties in ranking problems, Biometrika 33,
    1945)."""
    signs = [(_sign(a[0] - b[0]), _sign(a[1] - b[1])) for a, b in itertools.combinations(pairs, 2)]
    agreeing = sum(one * other for one, other in signs)
    return agreeing / math.sqrt(sum(one != 0 for one, _ in signs) * sum(other != 0 for _, other in signs))


def rows_of(pairs: list[tuple[float | None, float | None]], mix: str = "a.wav") -> list[Row]:
    """Rendered rows, crest on excerpts and of the whole."""
    return [
        row(f"{number:03d}", measured(crest=whole), mix=mix,
            on_excerpts=OnExcerpts(measured(crest=heard), (), (), 0.5))
        for number, (heard, whole) in enumerate(pairs, 1)
    ]  # fmt: skip


def agreed(tmp_path: Path, rows: list[Row]) -> tuple[Agreement, ...]:
    return agreements(chain_of(tmp_path, TEXT.replace("mixes: [a.wav, b.wav]", "mix: a.wav")), rows)


@pytest.mark.parametrize("seed", range(6))
def test_it_is_kendalls_tau_over_what_has_both(tmp_path: Path, seed: int):
    drawn = random.Random(seed)
    pairs = [(round(drawn.gauss(9, 1), 1), round(drawn.gauss(9, 1), 1)) for _ in range(9)]  # some of them ties
    (found,) = agreed(tmp_path, [*rows_of(pairs), failed("010", "a.wav")])
    assert found.tau == pytest.approx(tau_b(pairs))
    assert (found.mix, found.key, found.variants) == ("a.wav", "crest_db", 9)


def test_the_same_order_is_one_and_the_other_way_round_minus_one(tmp_path: Path):
    assert agreed(tmp_path, rows_of([(n, 2 * n) for n in range(6)]))[0].tau == pytest.approx(1)
    assert agreed(tmp_path, rows_of([(n, -n) for n in range(6)]))[0].tau == pytest.approx(-1)


def test_what_was_only_tried_or_has_no_value_is_not_compared(tmp_path: Path):
    rows = rows_of([(1, 1), (2, 2), (None, 3), (4, None), (5, 5)])
    only_tried = replace(rows[1], status="tried", measurements=None)
    assert agreed(tmp_path, [rows[0], only_tried, *rows[2:]])[0].variants == 2


@pytest.mark.parametrize(
    ("pairs", "words"),
    [
        ([(n, n) for n in range(5)],
         "crest: the order on excerpts agrees with that of the whole: tau 1.00 over 5 variants"),
        ([(n, n) for n in range(4)],
         "crest: the order on excerpts agrees with that of the whole: tau 1.00 over 4 variants, too few to say much"),
        ([(n, 7) for n in range(6)],
         "crest: no order on excerpts to hold against the whole, over 6 variants: they are all equal"),
        ([(1, 1)], "crest: no order on excerpts to hold against the whole, over 1 variant: that takes two"),
    ],
)  # fmt: skip
def test_few_and_equal_ones_are_said_to_be(tmp_path: Path, pairs, words):
    assert agreed(tmp_path, rows_of(pairs))[0].words == words


def test_mixes_are_told_apart_each_by_itself(tmp_path: Path):
    rows = [*rows_of([(n, n) for n in range(6)]), *rows_of([(n, -n) for n in range(6)], "b.wav")]
    found = agreements(chain_of(tmp_path, TEXT + "album: each to target\n"), rows)
    assert [(one.mix, one.tau) for one in found] == [("a.wav", pytest.approx(1)), ("b.wav", pytest.approx(-1))]
    words = excerpts_words(rows, found)
    assert words[0] == "12 variants were tried on excerpts, the best 12 of them rendered; table.csv has all"
    assert words[1].startswith("a.wav: crest: ") and words[2].startswith("b.wav: crest: ")
    data = excerpts_data(rows, found)["on_excerpts"]
    assert data == {"tried": 12, "rendered": 12, "agreement": [
        {"mix": one.mix, "measurement": "crest_db", "tau": one.tau, "variants": 6} for one in found]}  # fmt: skip


def test_a_run_without_excerpts_says_nothing_of_them(tmp_path: Path):
    rows = [row("001", measured())]
    assert (excerpts_words(rows, ()), excerpts_data(rows, ())) == ((), {})
