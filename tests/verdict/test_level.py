from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweeper.verdict import Leveled, match_gains_db


def test_everything_comes_down_to_the_quietest():
    assert match_gains_db([Leveled(-20, -6), Leveled(-10, -1), Leveled(-12, -1)]) == (0, -10, -8)


def test_the_level_is_lowered_until_nothing_clips():
    gains = match_gains_db([Leveled(-14, 1.5), Leveled(-10, -1)])
    assert gains == pytest.approx((-1.5, -5.5))


def test_silence_has_no_gain_and_pulls_nobody_down():
    assert match_gains_db([Leveled(None, None), Leveled(-10, -1)]) == (None, 0)


def test_only_silence():
    assert match_gains_db([Leveled(None, None)]) == (None,)


@given(st.lists(st.tuples(st.floats(-60, 0), st.floats(-60, 6)), min_size=1, max_size=8))
def test_all_land_on_one_level_and_none_clips(files):
    gains = match_gains_db([Leveled(loudness, peak) for loudness, peak in files])
    levels = [loudness + gain for (loudness, _), gain in zip(files, gains, strict=True)]
    assert max(levels) - min(levels) < 1e-9
    assert max(peak + gain for (_, peak), gain in zip(files, gains, strict=True)) <= 1e-9
