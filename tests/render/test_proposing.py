"""What a worker does to propose sections: names, likenesses, beats; the errors it gives."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile
from signals import noise

from sweeper.errors import AudioFileError
from sweeper.render.proposing import SectionsOrder, propose, proposed
from sweeper.workers import Pool, Report
from sweeper.workers.messages import Beat, Phase


def written(path, levels_dbfs, rate_hz=16000):
    parts = [noise(10.0, rate_hz, level_dbfs=level, seed=n) for n, level in enumerate(levels_dbfs)]
    soundfile.write(path, np.concatenate(parts, axis=1).T, rate_hz, subtype="PCM_24")
    return path


def test_alike_sections_share_a_letter_and_know_of_each_other(tmp_path):
    sent = []
    order = SectionsOrder(written(tmp_path / "mix.wav", (-20, -30, -20, -30, -14)), 8, 8.0)
    found = propose(order, Report(sent.append)).sections
    assert [one.name for one in found] == ["a1", "b1", "a2", "b2", "c1"]
    assert [one.alike for one in found] == [("a2",), ("b2",), ("a1",), ("b1",), ()]
    assert [one.loudest for one in found] == [False, False, False, False, True]
    assert found[0].louder_lu is None
    assert [one.louder_lu for one in found[1:]] == pytest.approx([-10.0, 10.0, -10.0, 16.0], abs=0.3)
    assert [one.more_bass_db for one in found[1:]] == pytest.approx([0.0] * 4, abs=0.7)
    assert sum(isinstance(each, Phase) for each in sent) == 2
    assert max(each.share for each in sent if isinstance(each, Beat) and each.share is not None) == 1.0


def test_no_more_than_asked_for(tmp_path):
    order = SectionsOrder(written(tmp_path / "mix.wav", (-20, -30, -20, -30, -14)), 2, 8.0)
    assert len(propose(order, Report(lambda message: None)).sections) == 2


def test_the_errors_of_a_worker_are_those_of_the_file(tmp_path):
    (tmp_path / "text.wav").write_text("no sound")
    with Pool(1) as pool, pytest.raises(AudioFileError, match=r"text\.wav"):
        proposed(SectionsOrder(tmp_path / "text.wav", 8, 8.0), pool)
