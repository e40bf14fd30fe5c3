"""Held against scipy, and against the published table for paired comparison."""

from __future__ import annotations

import pytest
from scipy import stats

from sweeper.audition.chance import chance_words, guessing_probability
from sweeper.records.picks import Trial


@pytest.mark.parametrize("of", [1, 2, 7, 12, 20, 50, 100, 1000])
def test_it_is_scipys_binomial_test(of):
    for right in {0, 1, of // 2, of - 1, of}:
        expected = stats.binomtest(right, of, 0.5, alternative="greater").pvalue
        assert guessing_probability(right, of) == pytest.approx(expected, rel=1e-9)
        assert guessing_probability(right, of) == pytest.approx(stats.binom.sf(right - 1, of, 0.5), rel=1e-9)


# The least number of right answers that is significant, one-sided, two alternatives. Source: Roessler, Pangborn, Sidel
# and Stone, "Expanded statistical tables for estimating significance in paired-preference, paired-difference, duo-trio
# and triangle tests", Journal of Food Science 43 (1978), 940-943; the values from memory. ISO 5495 prints the same.
LEAST_RIGHT = {  # of: (at 5 %, at 1 %, at 0.1 %)
    7: (7, 7, None), 8: (7, 8, None), 10: (9, 10, 10), 12: (10, 11, 12), 15: (12, 13, 14), 16: (12, 14, 15),
    20: (15, 16, 18), 25: (18, 19, 21), 30: (20, 22, 24), 40: (26, 28, 31), 50: (32, 34, 37), 100: (59, 63, 66),
}  # fmt: skip


@pytest.mark.parametrize("of", LEAST_RIGHT)
def test_it_agrees_with_the_published_table(of):
    for least, level in zip(LEAST_RIGHT[of], (0.05, 0.01, 0.001), strict=True):
        if least is not None:
            assert guessing_probability(least, of) <= level < guessing_probability(least - 1, of)
        else:
            assert guessing_probability(of, of) > level


def test_the_ends_and_words():
    assert guessing_probability(0, 0) == guessing_probability(0, 12) == 1.0
    assert guessing_probability(12, 12) == 1 / 4096
    assert chance_words(Trial("a", "b", 9, 12)) == "9 of 12 right; guessing does as well 7.3 % of the time"
    assert chance_words(Trial("a", "b", 20, 20, planned=20)) == (
        "20 of 20 right; guessing does as well less than 0.1 % of the time"
    )
    assert chance_words(Trial("a", "b", 0, 0)) == "nothing was asked"
    early = chance_words(Trial("a", "b", 5, 5, planned=12))
    assert early.endswith("3.1 % of the time; ended early, of 12, which makes luck look better")
    with pytest.raises(ValueError, match="5 right of 3"):
        guessing_probability(5, 3)
