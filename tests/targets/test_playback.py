"""Normalised playback by arithmetic; the levels and ceilings are held in tests/targets/test_documents.py."""

from __future__ import annotations

import pytest

from sweeper.targets import LEVELS, Sound, played

ALBUM, TRACK, BROADCAST, TELEVISION = (
    next(level for level in LEVELS if level.target.id == id)
    for id in ("aes-td1008-music-album", "aes-td1008-music-track", "ebu-r128", "atsc-a85")
)


def alone(level, loudness, peak):
    (found,) = played(level, [Sound(loudness, peak)])
    return found


@pytest.mark.parametrize(
    ("level", "loudness", "peak", "gain", "peak_after"),
    [
        (TRACK, -9.5, -1.0, -6.5, -7.5), (TRACK, -9.5, 0.5, -6.5, -6.0), (TRACK, -16.0, -1.0, 0.0, -1.0),
        (TRACK, -20.0, -9.0, 4.0, -5.0), (BROADCAST, -9.5, -1.0, -13.5, -14.5), (TELEVISION, -9.5, -1.0, -14.5, -15.5),
    ],
)  # fmt: skip
def test_it_is_turned_to_the_level_where_the_peak_lets_it(level, loudness, peak, gain, peak_after):
    found = alone(level, loudness, peak)
    assert found.gain_db == pytest.approx(gain)
    assert found.true_peak_dbtp == pytest.approx(peak_after)
    assert found.loudness_lufs == pytest.approx(level.loudness_lufs)
    assert (found.held_back_db, found.over_ceiling) == (0, False)


@pytest.mark.parametrize(
    ("level", "loudness", "peak", "gain", "held_back"),
    [(TRACK, -20.0, -2.5, 1.5, 2.5), (TRACK, -20.0, -1.0, 0.0, 4.0), (TELEVISION, -30.0, -5.0, 3.0, 3.0)],
)
def test_a_gain_up_ends_at_the_ceiling_and_says_what_is_left(level, loudness, peak, gain, held_back):
    found = alone(level, loudness, peak)
    assert (found.gain_db, found.held_back_db) == (pytest.approx(gain), pytest.approx(held_back))
    assert found.loudness_lufs == pytest.approx(loudness + gain)
    assert found.over_ceiling is False


def test_a_peak_above_the_ceiling_is_not_turned_down_for_it_and_is_told():
    found = alone(TRACK, -20.0, 0.0)
    assert (found.gain_db, found.held_back_db, found.over_ceiling) == (0.0, 4.0, True)
    assert alone(TRACK, -15.8, 0.0).over_ceiling is True


def test_an_album_is_turned_by_its_loudest_and_keeps_its_relations():
    loud, soft, silent = played(ALBUM, [Sound(-9.0, -1.0), Sound(-18.0, -3.0), Sound(None, None)])
    assert (loud.gain_db, soft.gain_db) == (pytest.approx(-5), pytest.approx(-5))
    assert loud.loudness_lufs == pytest.approx(-14)
    assert soft.loudness_lufs == pytest.approx(-23)
    assert silent.gain_db is None


def test_the_highest_peak_of_an_album_holds_it_all_back():
    loudest, highest = played(ALBUM, [Sound(-20.0, -8.0), Sound(-24.0, -3.0)])
    assert loudest.gain_db == highest.gain_db == pytest.approx(2.0)
    assert (loudest.held_back_db, highest.true_peak_dbtp) == (pytest.approx(4.0), pytest.approx(-1.0))


def test_tracks_are_turned_one_by_one():
    loud, soft = played(TRACK, [Sound(-9.0, -1.0), Sound(-18.0, -9.0)])
    assert (loud.gain_db, soft.gain_db) == (pytest.approx(-7), pytest.approx(2))


def test_silence_is_not_turned():
    assert alone(TRACK, None, None).gain_db is None
    assert played(ALBUM, [Sound(None, None)])[0].true_peak_dbtp is None
