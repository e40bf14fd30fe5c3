"""When a ride is where: the way there ends on the stretch's first frame, the way back begins on its end."""

from __future__ import annotations

import numpy as np
import pytest

from sweeper.chain.model import Number
from sweeper.host.curve import Curve, ridden_block_frames
from sweeper.host.setup import RideSetup

RATE_HZ = 1000


def curve(*spans_s, ramp_s=0.1):
    return Curve(RideSetup("lift", "Gain", "", Number(3, "dB", "3 dB"), True, spans_s, ramp_s), RATE_HZ)


def whole(one, frames=4000, block=256):
    """The curve over every frame, whatever the pieces."""
    parts = []
    for at in range(0, frames, block):
        share = one.at(at, min(block, frames - at))
        parts.append(np.broadcast_to(share, min(block, frames - at)))
    return np.concatenate(parts)


def test_the_ramp_up_ends_on_the_first_frame_and_the_ramp_down_begins_on_the_end():
    share = whole(curve((1.0, 2.0)))
    assert (share[:900] == 0).all() and 0 < share[901] < share[950] < share[999] < 1
    assert (share[1000:2000] == 1).all()
    assert share[2001] < 1 and share[2050] == pytest.approx(0.5) and (share[2100:] == 0).all()


@pytest.mark.parametrize("block", [1, 7, 256, 4000])
def test_pieces_make_no_difference(block):
    one = curve((0.5, 0.9), (1.5, 3.0))
    assert np.array_equal(whole(one, block=block), whole(one, block=64))


def test_without_a_ramp_it_steps_on_the_frame():
    share = whole(curve((1.0, 2.0), ramp_s=0.0))
    assert np.array_equal(np.flatnonzero(share), np.arange(1000, 2000))


def test_what_does_not_move_is_one_number():
    one = curve((1.0, 2.0))
    assert (one.at(0, 900), one.at(1000, 1000), one.at(2100, 900)) == (0.0, 1.0, 0.0)


def test_a_step_takes_the_most_of_its_stretch_so_that_a_ride_is_on_time():
    one = curve((1.0, 2.0))
    assert one.over(744, 1000) == 1.0  # it ends where the stretch begins
    assert one.over(800, 900) == 0.0 and one.over(800, 950) == pytest.approx(0.5)
    assert one.over(1999, 2255) == 1.0 and one.over(2000, 2256) == 1.0
    assert one.over(2050, 2306) == pytest.approx(0.5) and one.over(2100, 2356) == 0.0


def test_a_stretch_shorter_than_a_step_is_not_missed():
    assert curve((1.0, 1.01), ramp_s=0.0).over(896, 1152) == 1.0


@pytest.mark.parametrize(("rate_hz", "frames"), [(44100, 256), (48000, 256), (96000, 512), (192000, 1024), (8000, 64)])
def test_a_ridden_stage_runs_in_the_largest_power_of_two_within_10_ms(rate_hz, frames):
    assert ridden_block_frames(rate_hz, 1024) == frames
    assert 1000 * frames / rate_hz <= 10 < 2000 * frames / rate_hz or frames == 1024
