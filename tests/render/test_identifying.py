"""What made one file of another, on the loudest minute of what both have."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile
from signals import noise, programme

from sweeper.audio import inspect
from sweeper.meter.alignment import Alignment
from sweeper.meter.identified import TOO_SHORT
from sweeper.meter.quiet_copy import LOST
from sweeper.render.identifying import CLOCK, EDITED, NOT_ALIGNED, identified_in

RATE_HZ = 8000
SAME = Alignment(0.0, (False, False), 1.0, None, False, ())


def told(folder, one, other, alignment, common, encoding="FLOAT", beat=lambda: None):
    for name, samples in (("a.wav", one), ("b.wav", other)):
        soundfile.write(folder / name, samples.T, RATE_HZ, subtype=encoding)
    return identified_in(inspect(folder / "a.wav"), inspect(folder / "b.wav"), alignment, common, beat)


def test_it_is_told_of_the_loudest_minute_of_what_both_have(tmp_path):
    """B lacks the first 2 s of A; what is clipped are 70 s after 20 s that are not."""
    sound = noise(100.0, RATE_HZ, level_dbfs=-40.0)
    sound[:, 20 * RATE_HZ : 90 * RATE_HZ] *= 10
    beats = []
    found = told(tmp_path, sound, np.clip(sound, -0.2, 0.2)[:, 2 * RATE_HZ :],
                 Alignment(-2.0 * RATE_HZ, (False, False), 1.0, None, False, ()), (2 * RATE_HZ, 98 * RATE_HZ),
                 beat=lambda: beats.append(1))  # fmt: skip
    assert (found.frames, found.first_frame % RATE_HZ) == (60 * RATE_HZ, 0)
    assert 20 <= found.first_frame / RATE_HZ <= 30
    assert -40 < found.explained.residue_db < -10
    assert len(beats) > 10


def test_an_offset_is_whole_frames_and_the_rest_is_response(tmp_path):
    sound = programme(8.0, RATE_HZ)
    found = told(tmp_path, sound, np.pad(-0.5 * sound, ((0, 0), (40, 0))),
                 Alignment(39.7, (True, True), 1.0, None, False, ()), (0, 8 * RATE_HZ))  # fmt: skip
    assert found.explained.residue_db < -90


def test_the_word_length_of_b_is_a_floor(tmp_path):
    sound = noise(4.0, RATE_HZ)
    assert told(tmp_path, sound, 0.5 * sound, SAME, (0, 4 * RATE_HZ), "PCM_16").explained.floor_db == pytest.approx(
        -70.3, abs=0.1)  # fmt: skip


@pytest.mark.parametrize(("changed", "remark"), [({"drift_ppm": 20.0}, CLOCK), ({"wanders": True}, EDITED)])
def test_what_makes_the_residue_larger_is_said(tmp_path, changed, remark):
    sound = programme(2.0, RATE_HZ)
    alignment = Alignment(**{**vars(SAME), **changed})
    remarks = told(tmp_path, sound, sound, alignment, (0, 2 * RATE_HZ)).explained.remarks
    assert remark in remarks and LOST in remarks


def test_what_cannot_be_told_has_a_reason(tmp_path):
    sound = programme(0.4, RATE_HZ)
    for alignment, reason in ((None, NOT_ALIGNED), (SAME, TOO_SHORT)):
        explained = told(tmp_path, sound, sound, alignment, (0, sound.shape[1])).explained
        assert (explained.residue_db, explained.remarks) == (None, (reason,))
