"""Lowest and highest samples a column: numpy on each stretch, lengths that columns do not divide, chunking."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from signals import cut

from sweeper.audio.format import AudioFormat
from sweeper.meter import envelope


def measured(samples, columns, blocks=None, full_scale=1.0):
    state = envelope.start(AudioFormat(len(samples), 48000, full_scale), samples.shape[1], columns)
    for block in blocks if blocks is not None else [samples]:
        state = envelope.advance(state, block)
    return envelope.finish(state)


@settings(max_examples=60, deadline=None)
@given(frames=st.integers(1, 3000), columns=st.integers(1, 400),
       sizes=st.lists(st.integers(1, 700), min_size=1, max_size=4))  # fmt: skip
def test_every_frame_is_in_the_column_of_its_time(frames, columns, sizes):
    music = np.random.default_rng(frames).uniform(-1.2, 1.2, (2, frames)).astype(np.float32)
    found = measured(music, columns, cut(music, sizes))
    columns = min(columns, frames)
    place = np.arange(frames) * columns // frames
    parts = [music[:, place == column] for column in range(columns)]
    assert (found.lows == np.stack([part.min(axis=1) for part in parts], axis=1)).all()
    assert (found.highs == np.stack([part.max(axis=1) for part in parts], axis=1)).all()
    assert found.overs.tolist() == [int((np.abs(part) >= 1.0).sum()) for part in parts]


def test_overs_are_counted_at_the_files_own_full_scale():
    music = np.zeros((2, 100), np.float32)
    music[0, 30:33] = 32767 / 32768
    assert measured(music, 10, full_scale=32767 / 32768).overs.tolist() == [0, 0, 0, 3, 0, 0, 0, 0, 0, 0]
    assert measured(music, 10).overs.sum() == 0


def test_a_stream_that_ends_early_has_silence_there_and_one_that_goes_on_is_refused():
    state = envelope.advance(envelope.start(AudioFormat(1, 48000), 100, 10), np.full((1, 50), 0.5))
    found = envelope.finish(state)
    assert found.highs[0].tolist() == [0.5] * 5 + [0.0] * 5
    with pytest.raises(ValueError, match="101 frames came, 100 were announced"):
        envelope.advance(state, np.zeros((1, 51)))
    with pytest.raises(ValueError, match="0 frames"):
        envelope.start(AudioFormat(1, 48000), 0, 10)
