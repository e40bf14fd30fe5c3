"""The bend of a driven limiter, against the curve itself."""

from __future__ import annotations

import math

import pytest

from sweeper.plan.reach_bend import drive_for, knee_of, slope_after


def loudness(drive_db: float, knee_db: float) -> float:
    return drive_db - knee_db * math.log1p(math.exp(drive_db / knee_db))


@pytest.mark.parametrize("knee_db", [0.5, 1.7, 4.0])
@pytest.mark.parametrize("drive_db", [-3.0, 0.0, 2.0])
@pytest.mark.parametrize("more_db", [0.2, 1.0, 3.0])
def test_drive_knee_and_slope_are_those_of_the_curve(knee_db, drive_db, more_db):
    lost_db = drive_db - loudness(drive_db, knee_db)
    gain_db = loudness(drive_db + more_db, knee_db) - loudness(drive_db, knee_db)
    assert drive_for(gain_db, lost_db, knee_db) == pytest.approx(more_db, rel=1e-6)
    if more_db - gain_db > 0.01:
        assert knee_of(more_db, gain_db, lost_db + more_db - gain_db) == pytest.approx(knee_db, rel=1e-2)
    slope = (loudness(drive_db + 1e-5, knee_db) - loudness(drive_db - 1e-5, knee_db)) / 2e-5
    assert slope_after(lost_db, knee_db) == pytest.approx(slope, rel=1e-5)


def test_what_no_drive_gives_takes_endless_drive():
    assert drive_for(2.0, 3.0, 1.0) == math.inf
