"""The interpolating filter and the bounds that follow from it."""

import numpy as np
import pytest

from sweeper.meter import interpolator
from sweeper.meter.interpolator import CENTRE, KERNEL, PHASES, TAPS, interpolate, interpolate_one_phase


def test_a_constant_stays_what_it_is():
    assert np.abs(interpolate(np.ones((1, TAPS))) - 1.0).max() < 1e-12


def test_phases_run_from_the_left_sample_to_the_right():
    # A straight line through the centre: value p / 16 at phase p, within the filter's ripple
    line = (np.arange(TAPS) - CENTRE)[None] * 1.0
    assert interpolate(line)[0] == pytest.approx(np.arange(1, PHASES) / PHASES, abs=0.01)


@pytest.mark.parametrize("cycles", [0.01, 0.1, 0.25, 0.4, 0.4535])
def test_tones_are_followed_between_the_samples(cycles):
    # Against the tone itself; the error of the window is worst near half the rate
    time = np.arange(TAPS) - CENTRE
    between = np.arange(1, PHASES) / PHASES
    for phase in np.linspace(0, 2 * np.pi, 12):
        window = np.sin(2 * np.pi * cycles * time + phase)[None]
        truth = np.sin(2 * np.pi * cycles * between + phase)
        assert np.abs(interpolate(window)[0] - truth).max() < 0.003


def test_published_bounds_of_this_filter():
    # Worked out apart from this code for a Kaiser window, beta 9, 64 taps, 16 phases
    assert pytest.approx(2.79376, abs=1e-4) == interpolator.MOST_GAIN
    assert pytest.approx(0.53926, abs=1e-4) == interpolator.MOST_CURVATURE


def test_one_phase_at_a_time_agrees_with_all_at_once():
    windows = np.random.default_rng(3).standard_normal((50, TAPS))
    phases = np.arange(50) % (PHASES - 1)
    exact = interpolate_one_phase(windows, phases)
    assert exact == pytest.approx(interpolate(windows)[np.arange(50), phases], abs=1e-12)


def test_a_value_depends_on_its_own_window_only():
    windows = np.random.default_rng(4).standard_normal((33, TAPS))
    phases = np.arange(33) % (PHASES - 1)
    alone = [interpolate_one_phase(windows[k : k + 1], phases[k : k + 1])[0] for k in range(33)]
    assert interpolate_one_phase(windows, phases).tolist() == alone


def test_no_second_difference_is_forgotten():
    # |y| <= straight line + weights * |second differences|, for windows drawn at random and rough ones
    random = np.random.default_rng(5)
    windows = random.standard_normal((400, TAPS)) * random.choice([0.0, 0.01, 1.0], (400, TAPS))
    ends = np.abs(windows[:, [CENTRE, CENTRE + 1]]).max(axis=1)
    bends = np.abs(np.diff(windows, 2, axis=1)) @ interpolator.CURVATURE
    assert (np.abs(windows @ KERNEL) <= ends[:, None] + bends + 1e-12).all()
