"""Cutting a stream on a fixed grid."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from sweeper.meter.compiled import SUM_FRAMES
from sweeper.meter.grid import added, carve, nothing, padded, products


@given(sizes=st.lists(st.integers(0, 30), max_size=20), step=st.integers(1, 17))
def test_carving_keeps_every_frame_in_order(sizes, step):
    stream = np.arange(2 * sum(sizes), dtype=np.float64).reshape(2, -1)
    pending, taken, at = nothing(2), [nothing(2)], 0
    for size in sizes:
        whole, pending = carve(pending, stream[:, at : at + size], step)
        assert whole.shape[1] % step == 0
        assert pending.shape[1] < step
        taken.append(whole)
        at += size
    assert np.array_equal(np.concatenate([*taken, pending], axis=1), stream)


def test_what_is_kept_does_not_follow_the_callers_buffer():
    buffer = np.ones((1, 5))
    _, rest = carve(nothing(1), buffer, 4)
    buffer[:] = 7.0
    assert rest.tolist() == [[1.0]]


def test_sums_grow_in_order_of_time():
    # (1e16 + 1) + 1 loses both ones, 1e16 + (1 + 1) does not: the order decides, so it has to be one order
    parts = np.array([[1e16, 1.0, 1.0]])
    at_once = added(np.zeros(1), parts)
    in_turn = added(added(added(np.zeros(1), parts[:, :1]), parts[:, 1:2]), parts[:, 2:])
    assert at_once.tolist() == in_turn.tolist() == [1e16]


def test_products_are_summed_over_each_stretch():
    one, two = np.arange(2.0 * SUM_FRAMES), np.full(2 * SUM_FRAMES, 2.0)
    half = SUM_FRAMES * (SUM_FRAMES - 1)
    assert products(one, two).tolist() == [half, half + 2 * SUM_FRAMES**2]


def test_padding_fills_the_last_stretch():
    assert padded(np.ones((2, 3))).shape == (2, SUM_FRAMES)
    assert padded(np.ones((2, 3))).sum() == 6
    assert padded(nothing(2)).shape == (2, 0)
