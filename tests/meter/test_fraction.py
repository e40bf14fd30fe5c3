"""Sound moved by a part of a frame, against sines whose every value is known."""

from __future__ import annotations

import numpy as np
import pytest

from sweeper.meter.fraction import REACH, earlier

FRAMES = 4000


@pytest.mark.parametrize("fraction", [-0.75, -0.5, 0.01, 0.37, 0.5])
@pytest.mark.parametrize("share", [0.01, 0.5, 0.9, 0.98])
def test_a_sine_up_to_98_per_cent_of_half_the_rate_is_moved_exactly(fraction, share):
    turns = np.pi * share
    moved = earlier(np.sin(turns * np.arange(FRAMES))[None, :], fraction)
    wanted = np.sin(turns * (np.arange(REACH, FRAMES - REACH) + fraction))
    assert moved.shape == (1, FRAMES - 2 * REACH)
    assert np.abs(moved[0] - wanted).max() < 1e-5  # -100 dB


def test_nothing_moves_nothing():
    samples = np.random.default_rng(1).standard_normal((2, 2000))
    assert np.allclose(earlier(samples, 0.0), samples[:, REACH:-REACH], atol=1e-12)
