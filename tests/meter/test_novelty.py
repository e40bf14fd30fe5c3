"""Novelty against its definition, written out the long way; peaks."""

import numpy as np
import pytest

from sweeper.meter.novelty import TAPER, novelty, peaks


def by_definition(features, half, moment):
    """The energy distance of the tapered sides of a moment, halved (Székely and Rizzo, from memory)."""
    taper = np.exp(-0.5 * ((np.arange(half) + 0.5) / (TAPER * half)) ** 2)
    before, after = features[moment + 1 - half : moment + 1][::-1], features[moment + 1 : moment + 1 + half]
    weights = np.outer(taper, taper)

    def mean(one, other, weights):
        return np.average(np.sqrt(((one[:, None] - other[None]) ** 2).mean(axis=2)), weights=weights)

    apart = weights - np.diag(np.diag(weights))
    return mean(before, after, weights) - (mean(before, before, apart) + mean(after, after, apart)) / 2


def test_it_is_half_the_energy_distance_of_the_two_sides():
    features = np.random.default_rng(4).standard_normal((40, 5)) * 3.0
    features[20:, 1] += 8.0
    found = novelty(features, 6)
    expected = [max(by_definition(features, 6, moment), 0.0) for moment in range(5, 34)]
    assert found[5:34] == pytest.approx(expected)
    assert (found[:5] == 0.0).all()
    assert (found[34:] == 0.0).all()


def test_a_step_reads_its_height_at_its_place():
    features = np.zeros((40, 3))
    features[17:] = 6.0
    found = novelty(features, 8)
    assert int(found.argmax()) == 16
    assert found[16] == pytest.approx(6.0)


@pytest.mark.parametrize(("frames", "half"), [(0, 4), (1, 4), (7, 4), (40, 1)])
def test_where_there_are_no_two_sides_nothing_is_new(frames, half):
    assert (novelty(np.random.default_rng(1).standard_normal((frames, 2)), half) == 0.0).all()


def test_peaks_stand_out_and_come_highest_first():
    values = np.array([0.0, 2.0, 1.5, 1.8, 0.0, 5.0, 0.2, 0.5, 0.0])
    assert peaks(values, 0.4).tolist() == [5, 1, 7]
    assert peaks(values, 1.0).tolist() == [5, 1], "1.8 is a shoulder of 2.0"
    assert peaks(np.array([3.0]), 1.0).tolist() == [0]
    assert peaks(np.zeros(0), 1.0).tolist() == []
