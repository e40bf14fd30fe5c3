"""Where a stepped control can stand, and what it shows there."""

from __future__ import annotations

import pytest
from fake_control import FakeControl, linear, listed

from sweeper.host.control import choices, step_positions


@pytest.mark.parametrize(
    ("steps", "positions"),
    [(0, ()), (1, ()), (2, (0, 1)), (3, (0, 0.5, 1)), (5, (0, 0.25, 0.5, 0.75, 1))],
)
def test_steps_stand_evenly_from_one_end_to_the_other(steps, positions):
    assert step_positions(FakeControl("Mode", linear(0, 1), steps=steps)) == positions


def test_every_step_is_a_choice_in_its_order_and_asking_moves_nothing():
    control = FakeControl("Mode", listed("Clean", "Warm", "Hot"), steps=3, at=0.5)
    assert choices(control) == ("Clean", "Warm", "Hot")
    assert (control.puts, control.at) == ([], 0.5)


@pytest.mark.parametrize(("steps", "count"), [(0, 0), (1, 0), (2, 2), (64, 64), (65, 0), (1000, 0)])
def test_what_runs_on_or_has_too_many_steps_has_none_to_list(steps, count):
    assert len(choices(FakeControl("Gain", linear(0, 10, 3), steps=steps))) == count
