"""Which stretch is the loudest, against a plain search."""

from __future__ import annotations

import numpy as np
import pytest

from sweeper.meter.loudest import loudest_start, powers_of


@pytest.mark.parametrize("seed", range(5))
def test_the_loudest_window_is_the_one_that_a_plain_search_finds(seed):
    powers = np.random.default_rng(seed).uniform(0, 1, 300)
    sums = [powers[at : at + 40].sum() for at in range(len(powers) - 39)]
    assert loudest_start(powers, 40) == int(np.argmax(sums))


def test_the_window_may_touch_both_ends_and_be_longer_than_the_mix():
    assert loudest_start(np.array([5.0, 5, 1, 1]), 2) == 0
    assert loudest_start(np.array([1.0, 1, 5, 5]), 2) == 2
    assert loudest_start(np.array([1.0, 2]), 5) == 0
    assert loudest_start(np.array([]), 0) == 0


@pytest.mark.parametrize("seed", range(5))
def test_of_a_loop_the_first_time_round_is_taken(seed):
    """Every window comes again to the bit, whatever has been summed before it."""
    powers = np.tile(np.random.default_rng(seed).uniform(0, 1, 9) ** 3, 60)
    assert loudest_start(powers, 50) < 9


def test_a_short_block_counts_for_what_is_in_it():
    """By hand: 2 channels of 10 frames at 0.5 are 5, of 2 frames at 1.0 are 4."""
    assert powers_of([np.full((2, 10), 0.5, np.float32), np.ones((2, 2), np.float32)]).tolist() == [5.0, 4.0]
