"""How the bass lies between left and right: definitions, on noise and tones."""

import numpy as np
import pytest

from sweeper.audio.format import AudioFormat
from sweeper.meter import low_end, twins

RATE_HZ = 48000
BASS = np.sin(2 * np.pi * 60 / RATE_HZ * np.arange(RATE_HZ * 2))
TREBLE = 0.3 * np.random.default_rng(1).standard_normal(BASS.size)
TURNED = np.cos(2 * np.pi * 60 / RATE_HZ * np.arange(RATE_HZ * 2))


def found(left, right, block=999):
    samples = np.stack([left, right])
    state = low_end.start(AudioFormat(2, RATE_HZ))
    for at in range(0, samples.shape[1], block):
        state = low_end.advance(state, samples[:, at : at + block])
    return low_end.finish(state)


@pytest.mark.parametrize(("right", "correlation", "loss_db"), [(BASS, 1.0, 0.0), (TURNED, 0.0, 3.01)])
def test_equal_bass_loses_nothing_in_mono_and_bass_at_a_right_angle_half(right, correlation, loss_db):
    bass = found(BASS, right)
    assert bass.correlation == pytest.approx(correlation, abs=0.02)
    assert bass.mono_loss_db == pytest.approx(loss_db, abs=0.1)
    assert bass.share_db == pytest.approx(0.0, abs=0.2)


def test_opposite_bass_under_mono_treble_is_found():
    assert found(BASS + TREBLE, -BASS + TREBLE).correlation < -0.95


def test_treble_alone_has_hardly_any_bass_and_a_dead_channel_has_none():
    assert found(TREBLE, np.flip(TREBLE)).share_db < -20
    assert found(BASS, 0 * BASS) is None


def test_how_the_stream_is_cut_changes_nothing_that_shows():
    one, other = found(BASS, TURNED, 100), found(BASS, TURNED, 10**6)
    assert one.correlation == pytest.approx(other.correlation, abs=1e-9)


def pair(left, right):
    return twins.advance(twins.start(AudioFormat(2, RATE_HZ)), np.stack([left, right]).astype(np.float32))


def test_twins_are_the_same_or_opposite_to_the_last_step():
    assert twins.same(pair(TREBLE, TREBLE))
    assert not twins.opposite(pair(TREBLE, TREBLE))
    assert twins.opposite(pair(TREBLE, -TREBLE))
    assert not twins.same(pair(TREBLE, TREBLE * (1 + 1e-4)))
    assert not twins.same(pair(0 * BASS, 0 * BASS))
