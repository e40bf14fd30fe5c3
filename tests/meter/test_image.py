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
    found = image.shift(seen(music), seen(0.1 * leaning, cut(0.1 * leaning, (777, 30000))), -20.0)
    assert found.at_s == 5.0
    assert found.change_db == pytest.approx(-4.0, abs=1e-9)
    assert found.to_db - found.from_db == pytest.approx(found.change_db)
    assert found.gone_at_s is None


def test_silence_before_it_does_not_move_the_place():
    music = np.concatenate([np.zeros((2, 4 * RATE_HZ)), noise(8.0, RATE_HZ)], axis=1)
    leaning = music.copy()
    leaning[1, 7 * RATE_HZ : 10 * RATE_HZ] *= 0.5
    assert image.shift(seen(music), seen(leaning), 0.0).at_s == 7.0


def test_level_alone_moves_nothing_and_short_files_have_one_window():
    music = noise(1.4, RATE_HZ)
    found = image.shift(seen(music), seen(0.3 * music), -10.458)
    assert found.change_db == pytest.approx(0.0, abs=1e-9)
    assert found.at_s == 0.0


def test_a_channel_that_is_gone_is_told_and_has_no_balance():
    music = noise(9.0, RATE_HZ)
    dead = music.copy()
    dead[0, 4 * RATE_HZ : 8 * RATE_HZ] = 0.0
    found = image.shift(seen(music), seen(dead), 0.0)
    assert found.gone_at_s == 4.0
    assert found.change_db is not None  # where both sound
    dithered = dead + np.random.default_rng(1).triangular(-1, 0, 1, dead.shape) / 2**15
    assert image.shift(seen(music), seen(dithered), 0.0).gone_at_s == 4.0
    nothing = image.shift(seen(music), seen(np.zeros((2, 9 * RATE_HZ))), 0.0)
    assert nothing == image.Shift(None, None, None, None, None)
    assert image.shift(seen(np.zeros((2, 0))), seen(music), 0.0).change_db is None


@pytest.mark.parametrize("louder_db", [-6.0, 0.0, 6.0, 40.0])
@pytest.mark.parametrize("balance_db", [0.0, 6.0])
def test_a_fade_at_another_level_loses_no_channel(louder_db, balance_db):
    """From -20 dBFS down by 6 dB a second, through every threshold there is; one channel is there before the other."""
    fading = noise(20.0, RATE_HZ) * 10 ** (-6 * np.arange(20 * RATE_HZ) / RATE_HZ / 20)
    fading[1] *= 10 ** (-balance_db / 20)
    found = image.shift(seen(fading), seen(10 ** (louder_db / 20) * fading), louder_db)
    assert found.gone_at_s is None
    assert found.change_db == pytest.approx(0.0, abs=1e-9)


def test_a_tail_that_one_file_has_a_little_louder_is_not_gone_from_the_other():
    tail = noise(9.0, RATE_HZ)
    tail *= 10 ** (-86 / 20) / np.sqrt(np.square(tail[1]).mean())
    cut_short = tail.copy()
    cut_short[1] *= 10 ** (-8 / 20)
    assert image.shift(seen(tail), seen(cut_short), 0.0).gone_at_s is None
