"""Places above full scale between the samples."""

import numpy as np

from sweeper.audio.format import AudioFormat
from sweeper.meter import between_overs

RATE_HZ = 48000
#: A sine at a quarter of the rate, 45 degrees off, has its samples at 0.707 of its amplitude (BS.1770-5, Annex 2).
QUARTER = np.sin(np.pi / 2 * np.arange(RATE_HZ * 2) + np.pi / 4)


def found(samples, block=5000):
    samples = np.atleast_2d(samples).astype(np.float32)
    state = between_overs.start(AudioFormat(len(samples), RATE_HZ))
    for at in range(0, samples.shape[1], block):
        state = between_overs.advance(state, samples[:, at : at + block])
    return between_overs.finish(state)


def bursts(level, starts, length=200):
    samples = np.zeros(RATE_HZ * 2)
    for start in starts:
        samples[start : start + length] = level * QUARTER[:length] * np.hanning(length)
    return samples


def test_each_burst_that_is_over_between_its_samples_is_one_place():
    starts = [8000, 40000, 70000]
    count, places = found(bursts(1.2, starts))
    assert np.abs(bursts(1.2, starts)).max() < 0.9
    assert count == 3
    assert all(start <= place <= start + 200 for start, place in zip(starts, places, strict=True))


def test_what_stays_below_is_none():
    assert found(bursts(0.97, [8000, 40000])) == (0, ())
    assert found(np.zeros(100)) == (0, ())


def test_samples_over_full_scale_count_and_one_long_stretch_is_one_place():
    assert found(1.2 * QUARTER)[0] == 1
    single = np.zeros(1000)
    single[500] = 1.01
    assert found(single) == (1, (500,))


def test_a_rise_right_at_the_end_counts():
    """CHECKS: samples (.5, .9, .9) at the very end rise between the last two, and are surrounded by silence."""
    samples = np.zeros(3000)
    samples[-3:] = (0.55, 0.99, 0.99)
    assert found(samples)[0] == 1


def test_how_the_stream_is_cut_changes_nothing():
    samples = np.stack([bursts(1.2, [8190, 16380]), bursts(1.1, [30000])])
    assert found(samples, 977) == found(samples, 10**6)
    assert found(samples)[0] == 3
