from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweeper.host.fifo import Fifo


@given(st.lists(st.integers(0, 40), max_size=12), st.data())
def test_what_goes_in_comes_out_in_order_whatever_the_pieces(sizes, data):
    whole = np.arange(2 * sum(sizes), dtype=np.float32).reshape(2, -1)
    fifo, at, taken = Fifo(2), 0, []
    for size in sizes:
        fifo.add(whole[:, at : at + size])
        at += size
        taken.append(fifo.take(data.draw(st.integers(0, fifo.frames))))
    taken.append(fifo.take(fifo.frames))
    assert np.array_equal(np.concatenate(taken, axis=1), whole)


def test_more_than_is_held_is_refused():
    with pytest.raises(ValueError, match="3 frames wanted, 0 held"):
        Fifo(1).take(3)
