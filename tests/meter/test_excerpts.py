"""Which pieces stand for a whole mix."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from sweeper.meter.excerpts import AT_PEAK, LISTENED, LONG, MOST, SHARE, SHORT, Piece, around, at_peaks, pieces
from sweeper.meter.gating_blocks import Blocks
from sweeper.meter.overshoots import Overshoots


def a_mix(seconds, loud=lambda tenth: 1.0):
    powers = np.array([loud(tenth) for tenth in range(round(10 * seconds))])
    return Blocks(powers, np.sqrt(powers))


@pytest.mark.parametrize("seconds", [60, 180, 240, 600, 3600])
def test_they_take_the_share_of_the_mix_and_lie_in_it_apart(seconds):
    chosen = pieces(a_mix(seconds, lambda tenth: 1 + tenth % 7))
    played = sum(piece.length for piece in chosen)
    assert len(chosen) >= 4
    assert played <= max(SHARE * 10 * seconds, 4 * 20) and played <= MOST
    assert played >= 0.6 * min(SHARE * 10 * seconds, MOST)
    for piece, after in pairwise(chosen):
        assert piece.first + piece.inside <= after.first
    assert chosen[-1].first + chosen[-1].inside <= 10 * seconds
    assert all(piece.lead == min(SHORT.lead, piece.first) for piece in chosen)


def test_the_quiet_and_the_loud_stand_for_as_much_as_they_weigh():
    chosen = pieces(a_mix(300, lambda tenth: 1.0 if tenth < 1500 else 10.0))
    loud = sum(piece.first >= 1500 for piece in chosen)
    assert 0 < len(chosen) - loud < loud


@pytest.mark.parametrize("seconds", [60, 90, 240, 600, 3600])
def test_long_ones_hold_windows_of_three_seconds_and_take_a_sixth_or_what_four_take(seconds):
    chosen = pieces(a_mix(seconds, lambda tenth: 1 + tenth % 7), LISTENED, LONG)
    played = sum(piece.length for piece in chosen)
    assert {piece.inside for piece in chosen} == {60}
    assert all(piece.lead == min(10, piece.first) for piece in chosen)
    assert len(chosen) >= 4 and played <= max(10 * seconds / 6, 4 * 70) and played <= MOST
    assert played >= 0.75 * min(10 * seconds / 6, MOST)
    for piece, after in pairwise(chosen):
        assert piece.first + piece.inside <= after.first
    assert chosen[-1].first + chosen[-1].inside <= 10 * seconds


def test_of_less_than_a_minute_there_are_no_long_ones():
    assert pieces(a_mix(55), LISTENED, LONG) == ()


@pytest.mark.parametrize("mix", [a_mix(30), a_mix(0), a_mix(200, lambda tenth: 0.0)])
def test_a_mix_that_is_short_or_silent_has_none(mix):
    assert pieces(mix) == ()


def test_peaks_are_looked_for_at_the_highest_sample_and_where_it_swings_furthest():
    mix = a_mix(60)
    samples, between = np.full(600, 0.5), np.full(600, 0.45)
    samples[100] = 0.9
    between[[200, 300, 400]] = [0.7, 0.65, 0.6]
    samples[500], between[500] = 0.1, 0.3  # swings furthest of all, and is far too soft to matter
    found = at_peaks(Overshoots(samples, between), mix, ())
    assert [piece.first + 1 for piece in found] == [100, 200, 300, 400]
    assert [piece.first + 1 for piece in at_peaks(Overshoots(samples, between), mix, (Piece(195, 5, 15),))] == [
        100, 300, 400]  # fmt: skip


def test_a_short_piece_lies_inside_the_mix():
    mix = a_mix(10)  # 100 blocks: 103 tenths
    for tenth in (0, 50, 102):
        piece = around(tenth, mix)
        assert piece.holds(tenth)
        assert piece.first - piece.lead >= 0 and piece.first + piece.inside <= 103
        assert piece.blocks == slice(piece.first, piece.first + 1) and piece.inside == AT_PEAK
