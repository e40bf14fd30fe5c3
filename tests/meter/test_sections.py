"""Proposed sections of invented signals whose boundaries and likenesses are known because we made them."""

from itertools import pairwise

import numpy as np
import pytest
from scipy import signal
from signals import cut, noise, programme, silence, sine, steps

from sweeper.audio.format import AudioFormat
from sweeper.meter import bands
from sweeper.meter.sections import sections

CLOSE_S = 0.25


def found(samples, rate_hz=48000, most=8, shortest_s=8.0, sizes=(65536,)):
    state = bands.start(AudioFormat(len(samples), rate_hz))
    for block in cut(samples, sizes):
        state = bands.advance(state, block)
    return sections(bands.finish(state), most, shortest_s)


def band_noise(seconds, low_hz, high_hz, level_dbfs, seed, rate_hz=48000):
    """Noise of one band, of an RMS level."""
    filters = signal.butter(4, [low_hz, high_hz], "bandpass", fs=rate_hz, output="sos")
    drawn = signal.sosfilt(filters, noise(seconds, rate_hz, seed=seed), axis=1)
    return drawn * 10 ** (level_dbfs / 20) / np.sqrt(np.mean(drawn**2))


def song(seed=1, rate_hz=48000):
    """Low, broad and loud, low again, bright: 13.37, 20, 11.2 and 15 s, beating twice a second."""
    parts = [band_noise(13.37, 100, 2000, -24, seed, rate_hz), band_noise(20.0, 60, 8000, -16, seed + 1, rate_hz),
             band_noise(11.2, 100, 2000, -24, seed + 2, rate_hz),
             band_noise(15.0, 900, 9000, -22, seed + 3, rate_hz)]  # fmt: skip
    joined = np.concatenate(parts, axis=1)
    beat = 0.4 + np.exp(-((np.arange(joined.shape[1]) % (rate_hz // 2)) / (0.1 * rate_hz)))
    return joined * beat


SONG_S = (0.0, 13.37, 33.37, 44.57, 59.57)


@pytest.mark.parametrize(("seed", "rate_hz"), [(1, 48000), (21, 44100), (31, 96000), (41, 22050)])
def test_a_song_of_known_parts(seed, rate_hz):
    parts = found(song(seed, rate_hz), rate_hz)
    assert [part.kind for part in parts] == [0, 1, 0, 2]
    assert [part.start_s for part in parts] == pytest.approx(SONG_S[:-1], abs=CLOSE_S)
    assert parts[-1].end_s == pytest.approx(SONG_S[-1], abs=0.1)
    assert parts[3].top_db > parts[2].top_db + 6
    assert parts[1].bass_db > parts[0].bass_db + 1


@pytest.mark.parametrize("step_db", [3.0, 6.0, -12.0])
def test_a_step_of_level_alone_is_a_boundary(step_db):
    levels = (-30.0, -30.0 + step_db, -30.0)
    music = np.concatenate([noise(12.3, level_dbfs=level, seed=n) for n, level in enumerate(levels)], axis=1)
    parts = found(music)
    assert [part.kind for part in parts] == [0, 1, 0]
    assert [part.start_s for part in parts] == pytest.approx([0.0, 12.3, 24.6], abs=CLOSE_S)


def test_a_tone_that_gets_louder_is_a_boundary_too():
    parts = found(steps([(20.0, -20.0), (12.0, -14.0), (15.0, -20.0)]))
    assert [(part.start_s, part.kind) for part in parts] == [(0.0, 0), (20.0, 1), (32.0, 0)]


@pytest.mark.parametrize(
    "samples", [noise(60.0), sine(-20.0, 60.0), sine(-20.0, 60.0, channels=1), noise(3.0), noise(15.9, seed=3)],
    ids=["noise", "tone", "mono", "3 s", "too short for two"],
)  # fmt: skip
def test_where_nothing_changes_there_is_one_section(samples):
    (part,) = found(samples)
    assert (part.start_s, part.end_s, part.kind) == (0.0, pytest.approx(samples.shape[1] / 48000, abs=0.1), 0)


@pytest.mark.parametrize("samples", [silence(20.0), silence(0.3), noise(20.0, level_dbfs=-110.0), noise(0.39)])
def test_where_nothing_sounds_there_is_none(samples):
    assert found(samples) == ()


def test_sections_begin_and_end_with_the_sound():
    music = np.concatenate([silence(3.04), song(), silence(5.0)], axis=1)
    parts = found(music)
    assert (parts[0].start_s, parts[-1].end_s) == (3.0, pytest.approx(3.04 + SONG_S[-1], abs=0.1))
    assert [part.start_s for part in parts[1:]] == pytest.approx([3.04 + s for s in SONG_S[1:-1]], abs=CLOSE_S)


def test_a_click_before_the_music_begins_the_sound():
    music = np.concatenate([silence(3.0), noise(20.0)], axis=1)
    music[0, 48000 + 10] = 0.01
    assert found(music)[0].start_s == 1.0


def test_turning_the_mix_down_changes_nothing_but_where_sound_begins():
    loud = found(song())
    quiet = found(song() / 10.0)
    assert [(p.start_s, p.end_s, p.kind) for p in loud] == [(p.start_s, p.end_s, p.kind) for p in quiet]


@pytest.mark.parametrize("most", [1, 2, 3])
def test_no_more_than_asked_for_and_the_greatest_changes_stay(most):
    parts = found(song(), most=most)
    assert len(parts) == most
    assert (parts[0].start_s, parts[-1].end_s) == (0.0, 59.5)
    assert all(one.end_s == other.start_s for one, other in pairwise(parts))


@pytest.mark.parametrize("shortest_s", [2.0, 8.0, 14.0])
def test_none_is_shorter_than_asked_for(shortest_s):
    music = programme(90.0, seed=5)
    parts = found(music, most=26, shortest_s=shortest_s)
    assert all(part.end_s - part.start_s >= shortest_s - 1e-9 for part in parts)
    assert all(one.end_s == other.start_s for one, other in pairwise(parts))
    assert len(parts) >= 2


@pytest.mark.parametrize(("shortest_s", "starts_s"), [(16.0, [0.0, 17.0]), (20.0, [0.0])])
def test_what_is_too_near_the_beginning_is_no_boundary(shortest_s, starts_s):
    music = np.concatenate([noise(17.0, level_dbfs=-30.0), noise(43.0, level_dbfs=-18.0, seed=2)], axis=1)
    assert [part.start_s for part in found(music, shortest_s=shortest_s)] == pytest.approx(starts_s, abs=CLOSE_S)


def test_neighbours_are_never_alike():
    for seed in range(4):
        parts = found(programme(90.0, seed=seed), most=26, shortest_s=3.0)
        assert all(one.kind != other.kind for one, other in pairwise(parts))
        kinds = [part.kind for part in parts]
        assert list(dict.fromkeys(kinds)) == list(range(len(set(kinds)))), "numbered as they appear"


@pytest.mark.parametrize("sizes", [(1000, 7), (48000,), (3, 100000, 4801)])
def test_how_the_stream_arrives_changes_nothing(sizes):
    music = song().astype(np.float32)
    assert found(music, sizes=sizes) == found(music)


@pytest.mark.parametrize(("most", "shortest_s"), [(0, 8.0), (8, 0.5)])
def test_what_cannot_be_asked_for(most, shortest_s):
    with pytest.raises(ValueError, match="at least 1"):
        found(noise(1.0), most=most, shortest_s=shortest_s)
