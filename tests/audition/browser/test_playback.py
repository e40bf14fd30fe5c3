"""What is heard is what was rendered, and switching, looping and levels do nothing else to it."""

from __future__ import annotations

import numpy as np

from audition.browser.listening import Ear, place_of

EDGE_FRAMES = 300


def test_what_is_heard_at_delivery_level_is_the_file_to_the_bit(ear: Ear, samples):
    ear.press("2", "v")
    heard = ear.play_and_listen(2.0)
    ear.stop()
    place = place_of(heard[:, 30000:], samples["004"])
    tail = heard[:, 60000:]
    expected = samples["004"][:, place + 30000 : place + 30000 + tail.shape[1]]
    assert np.array_equal(tail, expected)
