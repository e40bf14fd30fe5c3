"""Trims and fades, to the frame."""

from __future__ import annotations

import numpy as np
import pytest

from sweeper.chain.print_model import Edits
from sweeper.delivery.edits import DISC_BLOCK_FRAMES, Cut, cut_of, edited, silence_frames
from sweeper.errors import PrintError

RATE_HZ = 1000


def kept(cut, block=7, frames=100):
    ramp = np.arange(1.0, frames + 1)[None]
    return np.concatenate(list(edited((ramp[:, at : at + block] for at in range(0, frames, block)), cut)), axis=1)[0]


def test_times_become_frames_of_the_print():
    assert cut_of(Edits(0.02, 0.09, 0.005, 0.01), 100, RATE_HZ) == Cut(20, 90, 5, 10)
    assert cut_of(Edits(), 100, RATE_HZ) == Cut(0, 100, 0, 0)


@pytest.mark.parametrize("block", [1, 7, 100])
def test_exactly_the_frames_between_are_kept(block):
    assert list(kept(Cut(20, 90, 0, 0), block)) == list(range(21, 91))


@pytest.mark.parametrize("block", [1, 7, 100])
def test_fades_are_raised_cosines_inside_what_is_kept(block):
    out = kept(Cut(20, 90, 9, 19), block) / np.arange(21, 91)
    assert out[4] == pytest.approx(0.5)  # the fifth of nine frames is half-way
    assert out[-10] == pytest.approx(0.5)
    assert np.all(out[9:-19] == 1.0)
    assert np.all(np.diff(out[:10]) > 0)
    assert np.all(np.diff(out[-20:]) < 0)
    assert out[0] == pytest.approx(0.5 - 0.5 * np.cos(np.pi / 10))


@pytest.mark.parametrize(
    ("edits", "said"),
    [(Edits(end_s=0.2), "to end at 0.2 s, and the render lasts 0.100 s"), (Edits(start_s=0.1), "nothing is left"),
     (Edits(fade_in_s=0.06, fade_out_s=0.05), "the fades take 110 frames, and 100 are printed")],
)  # fmt: skip
def test_what_leaves_nothing_is_refused(edits, said):
    with pytest.raises(PrintError, match=said):
        cut_of(edits, 100, RATE_HZ)


@pytest.mark.parametrize("block", [1, 7, 100])
def test_silence_follows_what_is_kept(block):
    assert list(kept(Cut(20, 90, 0, 0, 12), block)) == [*range(21, 91), *[0] * 12]


@pytest.mark.parametrize("frames", [1, 587, 588, 589, 10_000_001])
@pytest.mark.parametrize("silence_s", [0.001, 2.0, 2.5])
def test_at_the_rate_of_a_disc_silence_ends_on_a_block_and_is_never_shortened(frames, silence_s):
    silence = silence_frames(frames, silence_s, 44100)
    assert (frames + silence) % DISC_BLOCK_FRAMES == 0
    assert 0 <= silence - round(silence_s * 44100) < DISC_BLOCK_FRAMES


def test_no_silence_stays_none_and_other_rates_are_to_the_frame():
    assert silence_frames(1234, 0.0, 44100) == 0
    assert silence_frames(1234, 2.0, 48000) == 96000
