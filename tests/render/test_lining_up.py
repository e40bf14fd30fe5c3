"""Stretches of files with silence around them, moved by parts of a frame, side by side."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile
from signals import noise

from sweeper.audio import inspect
from sweeper.meter.fraction import REACH, earlier
from sweeper.render import lining_up
from sweeper.render.lining_up import alignment_of, shifted, side_by_side, stretch, stretches

RATE_HZ = 16000


def written(path, samples):
    soundfile.write(path, samples.T, RATE_HZ, subtype="FLOAT")
    return inspect(path), samples.astype(np.float32)


@pytest.mark.parametrize(("start", "frames"), [(-50, 30), (-50, 100), (0, 1000), (900, 300), (2000, 10), (-5, 1100)])
def test_there_is_silence_before_a_file_and_after_it(tmp_path, start, frames):
    file, samples = written(tmp_path / "a.wav", noise(1000 / RATE_HZ, RATE_HZ))
    around = np.pad(samples, ((0, 0), (100, 2000)))
    assert np.array_equal(stretch(file, start, frames), around[:, 100 + start : 100 + start + frames])


def test_blocks_moved_by_a_fraction_are_what_the_whole_gives(tmp_path, monkeypatch):
    file, samples = written(tmp_path / "a.wav", noise(0.5, RATE_HZ))
    monkeypatch.setattr(lining_up, "BLOCK_FRAMES", 700)
    moved = np.concatenate(list(shifted(file, REACH, 6000, 0.3)), axis=1)
    assert np.allclose(moved, earlier(samples[:, : 6000 + 2 * REACH], 0.3), atol=1e-12)


def test_two_streams_come_in_blocks_of_one_size(tmp_path):
    file, samples = written(tmp_path / "a.wav", noise(9.0, RATE_HZ))
    parts = (samples[:, n : n + 999] for n in range(0, 144000, 999))
    pairs = list(side_by_side(stretches(file, 0, file.frames), parts))
    assert all(np.array_equal(ours, theirs) for ours, theirs in pairs)
    assert sum(ours.shape[1] for ours, _ in pairs) == file.frames


@pytest.mark.parametrize("late_s", [-28.0, -5.0, 0.25, 29.5])
def test_it_is_found_up_to_half_a_minute_away(tmp_path, late_s):
    music = noise(8.0, RATE_HZ, 1)
    empty = noise(abs(late_s), RATE_HZ, 1, -40.0, seed=7)
    longer = np.concatenate([empty, music], axis=1)
    pair = (music, longer) if late_s > 0 else (longer, music)
    one, other = (written(tmp_path / f"{n}.wav", each)[0] for n, each in enumerate(pair))
    beats = []
    assert alignment_of(one, other, lambda: beats.append(1)).offset_frames == late_s * RATE_HZ
    assert beats


def test_of_two_places_alike_the_nearer_is_taken(tmp_path):
    bar = noise(4.0, RATE_HZ, 1)
    loop, _ = written(tmp_path / "loop.wav", np.tile(bar, 4))
    later, _ = written(tmp_path / "later.wav", np.concatenate([bar[:, -160:], np.tile(bar, 4)], axis=1))
    assert alignment_of(loop, later, lambda: None).offset_frames == 160
