"""How far a print comes down: worked by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from sweeper.audio import AudioFormat
from sweeper.chain.print_specs import find_spec
from sweeper.delivery.ceiling import excess_db, trim_db
from sweeper.delivery.edits import Cut
from sweeper.delivery.orders import Ahead

AHEAD = Ahead(-0.4, 0.9, AudioFormat(2, 48000), 1000, 44100, None, Cut(0, 919, 0, 0))
DISC, ARCHIVE, MP3, FLOAT = (find_spec(name, Path()) for name in ("disc", "archive", "mp3", "archive"))


def test_what_is_over_comes_down_by_that_to_the_next_hundredth():
    assert excess_db(AHEAD, -1.0) == pytest.approx(0.6)
    assert trim_db(AHEAD, -1.0, DISC) == -0.61
    assert trim_db(replace(AHEAD, true_peak_dbtp=-0.9), -1.0, MP3) == -0.11


@pytest.mark.parametrize("peak_dbtp", [-1.0, -1.2, -0.996, None])
def test_what_is_not_over_in_two_decimals_stays(peak_dbtp):
    assert trim_db(replace(AHEAD, true_peak_dbtp=peak_dbtp), -1.0, DISC) == 0.0


def test_without_a_ceiling_integers_come_down_to_what_they_hold_with_dither_and_nothing_else_does():
    loud = replace(AHEAD, true_peak_dbtp=0.5, sample_peak=1.0)
    assert trim_db(loud, None, DISC) == -0.01  # 17 steps of 32768 are 0.0045 dB
    assert trim_db(replace(loud, sample_peak=1.1), None, DISC) == -0.84
    assert trim_db(replace(loud, sample_peak=1.1), None, MP3) == 0.0
    assert trim_db(loud, -1.0, replace(ARCHIVE, as_rendered=False)) == -1.51


def test_what_is_printed_as_rendered_is_never_turned_down():
    assert trim_db(replace(AHEAD, true_peak_dbtp=3.0, sample_peak=1.4), -1.0, ARCHIVE) == 0.0
