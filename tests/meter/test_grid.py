"""Cutting a stream on a fixed grid."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from sweeper.meter.grid import SMALL_FRAMES, carve, frames_of, kept, nothing


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


@given(sizes=st.lists(st.integers(0, 3 * SMALL_FRAMES), max_size=20))
def test_what_is_kept_is_every_frame_in_order_in_few_parts(sizes):
    stream, parts, at = np.arange(2 * sum(sizes), dtype=np.float64).reshape(2, -1), (nothing(2),), 0
    for size in sizes:
        block = stream[:, at : at + size].copy()
        parts, at = kept(parts, block), at + size
        block[:] = -1.0
    assert np.array_equal(np.concatenate(parts, axis=1), stream)
    assert frames_of(parts) == sum(sizes)
    assert all(part.shape[1] >= SMALL_FRAMES for part in parts[:-1])
