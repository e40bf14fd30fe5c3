"""Which stretch goes round, and that its seam does not click."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sweeper.chain.model import Mark, Mix, Section
from sweeper.dial.stretch import checked_span_s, faded, section_span_s
from sweeper.errors import AudioFileError

MIX = Mix(Path("mix.wav"), "mix.wav", (Section("verse", 1, 2), Section("Last Chorus", 3.5, 9)), Mark(1, 1))


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
