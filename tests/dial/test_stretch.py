"""Which stretch goes round, and that its seam does not click."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sweeper.chain.model import Mark, Mix, Section
from sweeper.dial.stretch import checked_span_s, faded, loudest_start, section_span_s
from sweeper.errors import AudioFileError

MIX = Mix(Path("mix.wav"), "mix.wav", (Section("verse", 1, 2), Section("Last Chorus", 3.5, 9)), Mark(1, 1))


@pytest.mark.parametrize("seed", range(5))
def test_the_loudest_window_is_the_one_that_a_plain_search_finds(seed):
    powers = np.random.default_rng(seed).uniform(0, 1, 300)
    sums = [powers[at : at + 40].sum() for at in range(len(powers) - 39)]
    assert loudest_start(powers, 40) == int(np.argmax(sums))


def test_the_window_may_touch_both_ends_and_be_longer_than_the_mix():
    assert loudest_start(np.array([5.0, 5, 1, 1]), 2) == 0
    assert loudest_start(np.array([1.0, 1, 5, 5]), 2) == 2
    assert loudest_start(np.array([1.0, 2]), 5) == 0


def test_sections_go_by_name():
    assert section_span_s(MIX, "last chorus") == (3.5, 9)
    with pytest.raises(AudioFileError, match="no section 'vers'") as refused:
        section_span_s(MIX, "vers")
    assert refused.value.remedy == "did you mean 'verse'?"


def test_a_stretch_lies_inside_the_mix():
    assert checked_span_s((2.0, 30.0), 10.0, "mix.wav") == (2.0, 10.0)
    for outside in ((12.0, 14.0), (9.8, 30.0), (3.0, 3.1)):
        with pytest.raises(AudioFileError, match=r"mix\.wav lasts 0:10\.0"):
            checked_span_s(outside, 10.0, "mix.wav")


def test_the_seam_does_not_click():
    loop = np.tile(np.linspace(-1, 1, 48000, dtype=np.float32), (2, 1))
    before = loop.copy()
    out = faded(loop, 48000)
    assert np.abs(np.diff(np.concatenate((loop, loop), axis=1)[0])).max() == 2.0
    assert np.abs(np.diff(np.concatenate((out, out), axis=1)[0])).max() < 0.005
    assert np.array_equal(out[:, 480:-480], loop[:, 480:-480])
    assert np.array_equal(loop, before)
    assert faded(np.ones((1, 1), np.float32), 48000).shape == (1, 1)
