"""How likely a forced choice comes out so well by guessing: the binomial distribution."""

from __future__ import annotations

from math import comb

from sweeper.records.picks import Trial


def guessing_probability(right: int, of: int) -> float:
    """The chance that somebody who guesses between two is right at least so many times.

    1.0 for no right answer, or none at all; 9 of 10: 0.0107. Exact up to rounding: a sum of whole numbers.
    Raises ValueError where right is not between 0 and `of`.
    Source: the binomial distribution with p = 1/2, one-sided, as in tables for paired comparison (ISO 5495; Roessler,
    Pangborn, Sidel and Stone, Journal of Food Science 43, 1978), and as forced-choice listening is judged.
    """
    if not 0 <= right <= of:
        raise ValueError(f"{right} right of {of}")
    as_good = sum(comb(of, k) for k in range(right, of + 1))
    return as_good / (1 << of)


def chance_words(trial: Trial) -> str:
    """9 of 12 right; guessing does as well 7.3 % of the time; of one that was ended early, that too."""
    if not trial.of:
        return "nothing was asked"
    share = 100 * guessing_probability(trial.right, trial.of)
    told = f"{share:.1f} %" if share >= 0.1 else "less than 0.1 %"
    words = f"{trial.right} of {trial.of} right; guessing does as well {told} of the time"
    return f"{words}; ended early, of {trial.planned}, which makes luck look better" if trial.early else words
