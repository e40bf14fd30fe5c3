"""Stretches of a second: they cover it, stay in their 100 ms, and their bounds are never too low."""

import numpy as np
import pytest
from signals import programme

from sweeper.meter import between
from sweeper.meter.interpolator import AFTER


@pytest.mark.parametrize("rate_hz", [8000, 11025, 22050, 44100, 48000, 192000])
def test_stretches_cover_a_second_and_are_longer_than_half_the_interpolator(rate_hz):
    cut = between.stretches(rate_hz)
    assert cut.starts[0] == between.STRETCH
    assert cut.lengths.sum() == rate_hz
    assert np.array_equal(np.diff(cut.starts), cut.lengths[:-1])
    assert AFTER < cut.lengths.min() <= cut.lengths.max() <= between.STRETCH
    assert np.array_equal(np.unique(cut.steps), np.arange(10))


def test_what_lies_behind_a_stretch_is_not_in_it():
    # 100 ms at 8000 Hz end at frame 800; the two samples after it rise between them, in the next stretch
    joined = np.zeros((1, 64 + 8000 + 64), np.float32)
    joined[0, 64 + 800 : 64 + 802] = 0.5
    cut = between.stretches(8000)
    last = int(np.flatnonzero(cut.steps == 0)[-1])
    chosen = np.array([last, last + 1])
    behind = between.highest(joined, np.zeros(2, np.intp), chosen, 8000, np.zeros(2))
    assert behind[0] < 0.51
    assert behind[1] == pytest.approx(0.5 * 4 / np.pi, abs=0.01)  # two neighbours of a sinc: 2 sinc(1/2)


def test_no_value_is_over_its_bound():
    music = programme(1.1, 8000).astype(np.float32)[:, : 64 + 8000 + 64]
    cut = between.stretches(8000)
    bounds = between.bounds(music, cut.starts)
    for channel in (0, 1):
        chosen = np.arange(cut.starts.size)
        found = between.highest(music, np.full(chosen.size, channel), chosen, 8000, np.zeros(chosen.size))
        assert (found <= bounds[channel]).all()
        assert found.max() > 0.5 * bounds[channel].max()
