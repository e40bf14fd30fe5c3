"""The passage that is looked at, on levels written by hand."""

from __future__ import annotations

import numpy as np
import pytest
import signals

from sweeper.audio import AudioFormat
from sweeper.meter import passage

RATE_HZ = 8000


def chosen(levels_dbfs, most_s: int, sizes=(8000,), hz: float = 1000.0) -> tuple[float, float]:
    """Start and end in seconds, of a sound with a level each second."""
    sound = signals.steps([(1.0, level) for level in levels_dbfs], RATE_HZ, hz)
    state = passage.start(AudioFormat(2, RATE_HZ))
    for block in signals.cut(sound, sizes):
        state = passage.advance(state, block)
    first, last = passage.finish(state, most_s)
    return first / RATE_HZ, last / RATE_HZ


def test_a_short_mix_is_taken_whole():
    assert chosen([-20] * 5, 60) == (0, 5)
    assert passage.finish(passage.advance(passage.start(AudioFormat(1, RATE_HZ)), np.zeros((1, 12345)))) == (0, 12345)


def test_the_loudest_stretch_is_taken():
    assert chosen([-30, -30, -10, -10, -10, -10, -20, -30], 4) == (2, 6)
    assert chosen([-30] * 6 + [-10] * 4, 4) == (6, 10)


def test_the_loudest_three_seconds_are_in_it():
    """A minute of equal power lies elsewhere; the 3 s that a limiter works on most are what is looked at."""
    quiet_but_long, short = [-12.0] * 10, [-60, -60, -60, -60, -9, -9, -9, -60, -60, -60, -60]
    assert chosen([*short, *quiet_but_long], 10) == (4, 14), "10 s at -12 are louder as a whole, without them"


def test_the_earliest_of_equals_is_taken():
    assert chosen([-60, -20, -20, -20, -60, -60, -20, -20, -20], 3) == (1, 4)
    assert chosen([-60] * 9, 3)[0] == chosen([-60] * 9, 3, (77,))[0]


def test_levels_are_k_weighted():
    """60 Hz reads over 2 dB less than 1 kHz (ITU-R BS.1770-5 Annex 1): a bass that is 1 dB louder is not taken."""
    low = signals.steps([(3.0, -10.0)], RATE_HZ, 60.0)
    high = signals.steps([(3.0, -11.0)], RATE_HZ, 1000.0)
    state = passage.advance(passage.start(AudioFormat(2, RATE_HZ)), np.concatenate([low, high], axis=1))
    assert passage.finish(state, 3) == (3 * RATE_HZ, 6 * RATE_HZ)


@pytest.mark.parametrize("sizes", [(1000,), (7777, 3), (100000,)])
def test_chunking_changes_nothing(sizes):
    levels = np.random.default_rng(2).uniform(-40, -10, 20)
    assert chosen(levels, 7, sizes) == chosen(levels, 7)


def test_silence_has_a_first_passage():
    assert chosen([-np.inf] * 10, 4) == (0, 4)
