"""The null of two renders at one level, held against the same sums done by numpy on the whole files."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile
from plugin_fixtures import done

from sweeper.errors import AudioFileError
from sweeper.render.matched_null import MatchedNull, NullOrder, matched_nulls
from sweeper.workers import Failed

RATE_HZ = 8000
RNG = np.random.default_rng(5)


def written(folder, name, samples, rate_hz=RATE_HZ):
    path = folder / f"{name}.wav"
    soundfile.write(path, np.asarray(samples, np.float32).T, rate_hz, subtype="FLOAT")
    return path


def noise(seconds, level=0.1):
    return level * RNG.standard_normal((2, round(seconds * RATE_HZ)))


def null(pool, one, other, gains=(0.0, 0.0)) -> MatchedNull:
    return done(pool, "sweeper.render.matched_null:null_at_one_level", NullOrder(one, other, *gains))


def rms(samples):
    return np.sqrt(np.mean(np.square(samples)))


def test_it_is_the_difference_against_both_in_the_three_seconds_where_it_is_largest(pool, tmp_path):
    music = noise(9.0)
    changed = music + 0.001 * RNG.standard_normal(music.shape)
    changed[:, 3 * RATE_HZ : 6 * RATE_HZ] += 0.004 * RNG.standard_normal((2, 3 * RATE_HZ))
    found = null(pool, written(tmp_path, "a", music), written(tmp_path, "b", changed))
    middle = np.s_[:, 3 * RATE_HZ : 6 * RATE_HZ]
    level = np.sqrt((rms(music[middle]) ** 2 + rms(changed[middle]) ** 2) / 2)
    assert found.null_db == pytest.approx(20 * np.log10(rms((music - changed)[middle]) / level), abs=1e-4)
    assert found.peak_dbfs == pytest.approx(20 * np.log10(np.abs(music - changed).max()), abs=1e-4)
    assert found.at_s == 3.0


def test_both_are_taken_at_the_matched_level(pool, tmp_path):
    music = noise(3.0)
    one, other = written(tmp_path, "a", music * 10 ** (3 / 20)), written(tmp_path, "b", music * 10 ** (-2.5 / 20))
    assert null(pool, one, other, (-3.0, 2.5)).null_db < -130
    assert null(pool, one, other, (-3.0, 2.4)).null_db == pytest.approx(-38.8, abs=0.1), "20 lg(1 - 10^(-0.1/20))"


def test_the_same_samples_leave_nothing(pool, tmp_path):
    music = noise(2.0)
    one, other = written(tmp_path, "a", music), written(tmp_path, "b", music)
    assert null(pool, one, other) == MatchedNull(None, None, 0.0)


def test_a_longer_tail_counts_and_so_does_a_rest_of_a_stretch(pool, tmp_path):
    music = noise(4.0)
    longer = np.concatenate([music, noise(0.5)], axis=1)
    found = null(pool, written(tmp_path, "a", music), written(tmp_path, "b", longer))
    rest = 3 * RATE_HZ
    sums = np.sum(music[:, rest:] ** 2) + np.sum(longer[:, rest:] ** 2)
    assert found.null_db == pytest.approx(10 * np.log10(2 * np.sum(longer[:, 4 * RATE_HZ :] ** 2) / sums), abs=1e-4)
    assert found.at_s == 3.0


def test_the_end_of_a_fade_is_not_judged_by_itself_but_is_no_nothing(pool, tmp_path):
    music, fade = noise(3.0), noise(3.0, 1e-4)
    one = written(tmp_path, "a", np.concatenate([music, fade], axis=1))
    other = written(tmp_path, "b", np.concatenate([music, -fade], axis=1))
    found = null(pool, one, other)
    assert found.null_db == pytest.approx(20 * np.log10(2 * rms(fade) / rms(music)), abs=0.01)


def test_files_of_two_rates_are_refused_and_the_others_still_compared(pool, tmp_path):
    one, other = written(tmp_path, "a", noise(1.0)), written(tmp_path, "b", noise(1.0), 16000)
    failed, found = matched_nulls([NullOrder(one, other, 0.0, 0.0), NullOrder(one, one, 0.0, 0.0)], pool)
    assert isinstance(failed, Failed)
    assert isinstance(failed.error, AudioFileError)
    assert found == MatchedNull(None, None, 0.0)


def test_it_comes_back_from_its_data():
    for one in (MatchedNull(None, None, 0.0), MatchedNull(-52.25, -60.5, 3.0)):
        assert MatchedNull.from_data(one.as_data()) == one
