from __future__ import annotations

import numpy as np
import pytest

from sweeper.chain.model import Channels
from sweeper.host.routing import narrowed, put_together, taken_apart, widened

NOISE = np.random.default_rng(3).uniform(-1, 1, (2, 5000)).astype(np.float32)


@pytest.mark.parametrize("channels", Channels)
def test_taking_apart_and_putting_together_gives_the_signal_back(channels):
    back = put_together(taken_apart(NOISE, channels), channels)
    residual = np.abs(back - NOISE).max()
    assert 20 * np.log10(residual + 1e-30) <= -140, "mid/side round trip, our own requirement"


def test_mid_is_half_the_sum_and_side_half_the_difference():
    sides = taken_apart(np.array([[1.0], [0.5]], np.float32), Channels.MID_SIDE)
    assert (sides["mid"][0, 0], sides["side"][0, 0]) == (0.75, 0.25)


def test_one_channel_feeds_both_inputs_and_comes_back_as_one():
    wide = widened(NOISE[:1], 2)
    assert np.array_equal(wide, np.stack([NOISE[0], NOISE[0]]))
    assert np.array_equal(narrowed(wide, 1), NOISE[:1])


def test_of_two_outputs_that_differ_the_mean_is_taken_where_one_channel_went_in():
    made = np.array([[1.0], [0.5]], np.float32)
    assert narrowed(made, 1).tolist() == [[0.75]]
    assert narrowed(made, 2) is made
