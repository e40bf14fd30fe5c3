"""Linear responses of several channels, known to the tap."""

from __future__ import annotations

import numpy as np
import pytest
import signals

from sweeper.meter import response

TAPS = 256


def made_by(taps: np.ndarray, sound: np.ndarray, of: response.Asked) -> np.ndarray:
    """(outputs, channels, TAPS) by direct convolution, where every tap has something to answer to."""
    return np.array([sum(np.convolve(one, each, "valid") for one, each in zip(sound, row, strict=True))
                     for row in taps])  # fmt: skip


def test_a_sound_through_a_response_is_the_convolution():
    sound = signals.noise(0.1)
    of = response.asked(sound, TAPS)
    taps = np.random.default_rng(2).standard_normal((2, 2, TAPS))
    whole = np.zeros((2, of.frames))
    for at, block in response.through(of, taps):
        whole[:, at : at + block.shape[1]] = block
    assert of.frames == sound.shape[1] - TAPS + 1
    np.testing.assert_allclose(whole, made_by(taps, sound, of), atol=1e-12)


@pytest.mark.parametrize("sound", [signals.noise(1.0), signals.programme(1.0)], ids=["noise", "programme"])
def test_turns_find_a_response_to_the_tap(sound):
    """A tap of its own on either channel, one from the other, one that comes ahead: tap AHEAD is no delay."""
    of = response.asked(sound, TAPS)
    taps, no_delay = np.zeros((2, 2, TAPS)), TAPS // 4
    taps[0, 0, no_delay], taps[0, 1, no_delay + 40], taps[1, 1, no_delay - 9] = 0.7, -0.3, 1.0
    made = made_by(taps, sound, of)
    told, left = np.zeros_like(taps), made
    shares = []
    for _ in range(4):
        told += response.found(of, left)
        left = made - made_by(told, sound, of)
        shares.append(10 * np.log10(np.square(left).sum() / np.square(made).sum()))
    assert shares == sorted(shares, reverse=True) and shares[-1] < -50
    np.testing.assert_allclose(told[0, 0, no_delay], 0.7, atol=0.01)
    np.testing.assert_allclose((told[0, 1, no_delay + 40], told[1, 1, no_delay - 9]), (-0.3, 1.0), atol=0.02)


def test_where_there_is_no_delay_made_begins_with_the_sound():
    sound = signals.noise(0.2)
    of = response.asked(sound, TAPS)
    told = response.found(of, sound[:, of.first : of.first + of.frames])
    assert [np.argmax(told[one, one]) for one in range(2)] == [TAPS // 4] * 2
    assert told[0, 0, TAPS // 4] == pytest.approx(1.0, abs=1e-3)


def test_silence_is_answered_with_nothing():
    of = response.asked(np.zeros((2, 4096)), TAPS)
    assert not response.found(of, np.ones((2, of.frames))).any()
