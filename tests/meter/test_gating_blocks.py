"""Blocks of 400 ms: their powers are those that loudness is made of, their peaks those of the samples."""

from __future__ import annotations

import numpy as np
import pytest
from signals import noise, steps

from sweeper.audio import AudioFormat
from sweeper.meter import gating_blocks
from sweeper.meter.gating import integrated
from sweeper.meter.panel import measure


def blocks_of(sound, rate_hz=48000, cut=4801):
    state = gating_blocks.start(AudioFormat(len(sound), rate_hz))
    for at in range(0, sound.shape[1], cut):
        state = gating_blocks.advance(state, sound[:, at : at + cut])
    return gating_blocks.finish(state)


def test_integrated_loudness_is_made_of_them():
    sound = steps([(3.0, -30.0), (4.0, -12.0), (2.55, -45.0)])
    found = blocks_of(sound)
    assert integrated(found.powers).value == measure(sound, AudioFormat(2, 48000))["loudness_lufs"]
    assert found.powers.size == found.peaks.size == 95 - 3  # 9.55 s: BS.1770-5 Annex 1 drops an incomplete block


def test_a_peak_is_in_the_four_blocks_that_hold_it():
    sound = np.zeros((2, 48000))
    sound[1, 24000] = -0.75
    peaks = blocks_of(sound).peaks
    assert np.flatnonzero(peaks == 0.75).tolist() == [2, 3, 4, 5]
    assert peaks.max() == 0.75


@pytest.mark.parametrize("cut", [1, 4799, 4800, 200000])
def test_how_the_stream_is_cut_changes_nothing(cut):
    sound = noise(1.3 if cut > 1 else 0.45)
    one, other = blocks_of(sound, cut=cut), blocks_of(sound)
    assert (one.powers == other.powers).all() and (one.peaks == other.peaks).all()


def test_what_is_shorter_than_a_block_has_none():
    assert blocks_of(np.ones((1, 19199))).powers.size == 0


def test_a_rate_without_whole_tenths_is_refused():
    with pytest.raises(ValueError, match="22055 Hz"):
        gating_blocks.start(AudioFormat(2, 22055))
