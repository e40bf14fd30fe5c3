"""Identical, as close as it repeats, or differs; and what two renders of now differ by."""

from __future__ import annotations

import pytest

from sweeper.audio.null import Null
from sweeper.recall.verdict import MARGIN_DB, Floor, Verdict, verdict


def null(peak_dbfs: float | None, frames=(100, 100)) -> Null:
    return Null(frames, peak_dbfs, peak_dbfs, 0, 0, 0.0, 0.0)


@pytest.mark.parametrize(
    ("identical", "left", "floor", "expected"),
    [(True, None, None, Verdict.IDENTICAL),
     (False, null(-140.0), Floor(None), Verdict.DIFFERS),
     (False, null(-60.0), Floor(-60.0), Verdict.AS_CLOSE_AS_IT_REPEATS),
     (False, null(-60.0 + MARGIN_DB), Floor(-60.0, "'tape'"), Verdict.AS_CLOSE_AS_IT_REPEATS),
     (False, null(-60.0 + MARGIN_DB + 0.1), Floor(-60.0), Verdict.DIFFERS),
     (False, null(-60.0, (100, 99)), Floor(-60.0), Verdict.DIFFERS),
     (False, null(None, (100, 99)), Floor(-60.0), Verdict.DIFFERS),
     (False, None, Floor(-60.0), Verdict.DIFFERS),
     (False, null(-60.0), None, Verdict.DIFFERS)],
)  # fmt: skip
def test_the_verdict(identical, left, floor, expected):
    assert verdict(identical, left, floor) is expected
    assert expected.came_back is (expected is not Verdict.DIFFERS)


def test_a_floor_as_data():
    assert Floor(None).as_data() == {"repeats": True, "peak_dbfs": None, "stage": None}
    assert Floor(-60.0, "'tape'").as_data() == {"repeats": False, "peak_dbfs": -60.0, "stage": "'tape'"}
