"""Word length really used."""

import numpy as np
import pytest

from sweeper.audio.format import AudioFormat
from sweeper.meter import word_length


def used(samples, blocks=3):
    state = word_length.start(AudioFormat(len(samples), 48000))
    for block in np.array_split(samples, blocks, axis=1):
        state = word_length.advance(state, block)
    return word_length.finish(state)


@pytest.mark.parametrize("bits", [8, 12, 16, 20, 24])
def test_integers_need_as_many_bits_as_they_have_in_any_wrapping(bits):
    words = np.random.default_rng(bits).integers(-(1 << (bits - 1)), 1 << (bits - 1), (2, 4000))
    assert used((words / (1 << (bits - 1))).astype(np.float32)) == bits


def test_one_sample_between_the_steps_is_enough():
    samples = np.zeros((1, 1000), np.float32)
    samples[0, 700] = 2.0**-24
    assert used(samples) is None


def test_silence_and_nothing_need_one_bit():
    assert used(np.zeros((1, 100), np.float32)) == used(np.zeros((1, 0), np.float32)) == 1
