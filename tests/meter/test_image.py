"""How far the image has moved, on balances that arithmetic gives."""

from __future__ import annotations

import numpy as np
import pytest
from signals import cut, noise

from sweeper.audio.format import AudioFormat
from sweeper.meter import image

RATE_HZ = 8000


def seen(samples, blocks=None):
    state = image.start(AudioFormat(2, RATE_HZ))
    for block in blocks or [samples]:
        state = image.advance(state, block)
    return state


def test_the_largest_shift_is_found_where_it_is():
    music = noise(12.0, RATE_HZ)
    leaning = music.copy()
    leaning[1, 5 * RATE_HZ : 8 * RATE_HZ] *= 10 ** (-4 / 20)
    leaning[0, 9 * RATE_HZ : 10 * RATE_HZ] *= 10 ** (-2 / 20)
    found = image.shift(seen(music), seen(0.1 * leaning, cut(0.1 * leaning, (777, 30000))))
    assert found.at_s == 5.0
    assert found.change_db == pytest.approx(-4.0, abs=1e-9)
    assert found.to_db - found.from_db == pytest.approx(found.change_db)
    assert found.gone_at_s is None


def test_silence_before_it_does_not_move_the_place():
    music = np.concatenate([np.zeros((2, 4 * RATE_HZ)), noise(8.0, RATE_HZ)], axis=1)
    leaning = music.copy()
    leaning[1, 7 * RATE_HZ : 10 * RATE_HZ] *= 0.5
    assert image.shift(seen(music), seen(leaning)).at_s == 7.0


def test_level_alone_moves_nothing_and_short_files_have_one_window():
    music = noise(1.4, RATE_HZ)
    found = image.shift(seen(music), seen(0.3 * music))
    assert found.change_db == pytest.approx(0.0, abs=1e-9)
    assert found.at_s == 0.0


def test_a_channel_that_is_gone_is_told_and_has_no_balance():
    music = noise(9.0, RATE_HZ)
    dead = music.copy()
    dead[0, 4 * RATE_HZ : 8 * RATE_HZ] = 0.0
    found = image.shift(seen(music), seen(dead))
    assert found.gone_at_s == 4.0
    assert found.change_db is not None  # where both sound
    assert image.shift(seen(music), seen(np.zeros((2, 9 * RATE_HZ)))) == image.Shift(None, None, None, None, None)
    assert image.shift(seen(np.zeros((2, 0))), seen(music)).change_db is None
