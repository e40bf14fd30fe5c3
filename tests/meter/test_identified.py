"""Residue and attenuation found from two sounds alone, held against the quiet copy of the same processors."""

from __future__ import annotations

import math
import tracemalloc

import numpy as np
import pytest
import signals
from scipy.ndimage import minimum_filter1d, uniform_filter1d
from scipy.signal import butter, fftconvolve, sosfilt

from sweeper.audio import AudioFormat
from sweeper.meter import quiet_copy
from sweeper.meter.identified import NOTHING_IN, RELATIVE, TOO_SHORT, identified
from sweeper.meter.quiet_copy import LESS_QUIET, LOST, NO_SOUND, QUIET

RATE_HZ = 48000


def found(process, sound: np.ndarray, rate_hz: int = RATE_HZ):
    """What is found of a processor that works in 32-bit floats, from what goes in and comes out."""
    went_in = sound.astype(np.float32)
    return identified(went_in, np.asarray(process(went_in), np.float32), rate_hz)


def by_quiet_copy(process, sound: np.ndarray):
    made = [np.asarray(process((sound * factor).astype(np.float32)), np.float32) for factor in (1, QUIET, LESS_QUIET)]
    return quiet_copy.finish(quiet_copy.advance(quiet_copy.start(AudioFormat(len(sound), RATE_HZ)), *made))


def music(seconds: float = 10.0, rate_hz: int = RATE_HZ, channels: int = 2) -> np.ndarray:
    return 3 * signals.programme(seconds, rate_hz, channels)


def bell(hz: float, q: float, gain_db: float):
    """The peaking equaliser of the Audio EQ Cookbook (R. Bristow-Johnson; W3C note, 2021)."""
    root, turn = 10 ** (gain_db / 40), 2 * math.pi * hz / RATE_HZ
    alpha = math.sin(turn) / (2 * q)
    above = np.array([1 + alpha * root, -2 * math.cos(turn), 1 - alpha * root])
    below = np.array([1 + alpha / root, -2 * math.cos(turn), 1 - alpha / root])
    section = np.concatenate((above, below))[None] / below[0]
    return lambda sound: sosfilt(section, sound)


def high_pass(sound):
    return sosfilt(butter(2, 30, "high", fs=RATE_HZ, output="sos"), sound)


def clipped(drive_db: float):
    return lambda sound: np.clip(sound * np.float32(10 ** (drive_db / 20)), -1, 1)


def limited(drive_db: float):
    """Look-ahead: the least gain within 2.5 ms, smoothed by as much."""

    def process(sound):
        driven = sound * np.float32(10 ** (drive_db / 20))
        wanted = np.minimum(1, 1 / np.maximum(np.abs(driven).max(axis=0), 1e-9))
        return driven * uniform_filter1d(minimum_filter1d(wanted, 241), 121)

    return process


def compressed(threshold_db: float, ratio: float, makeup_db: float = 0.0):
    """A level over 20 ms, and (level - threshold)(1 - 1/ratio) of reduction, the law of any compressor."""

    def process(sound):
        power = uniform_filter1d(np.square(sound.astype(np.float64)).max(axis=0), 960)
        over_db = np.maximum(0, 10 * np.log10(np.maximum(power, 1e-12)) - threshold_db)
        return sound * 10 ** ((makeup_db - uniform_filter1d(over_db, 960) * (1 - 1 / ratio)) / 20)

    return process


@pytest.mark.parametrize(("process", "least_db"), [
    (lambda sound: -0.7 * sound, -110), (bell(1000, 1, 6), -90), (bell(60, 2, 6), -60), (high_pass, -60),
    (lambda sound: np.roll(sound, 441, axis=1) - 0.3 * sound[::-1], -65),
], ids=["turned over", "bell at 1 kHz", "bell at 60 Hz", "high-pass", "delayed and crossed over"])  # fmt: skip
def test_what_is_linear_leaves_no_more_than_the_floor_and_attenuates_nothing(process, least_db):
    told = found(process, music())
    assert told.residue_db < min(told.floor_db + 3, least_db)
    assert LOST in told.remarks
    figures = (told.attenuation_db, told.median_db, told.most_db, told.working_share)
    assert np.abs(figures).max() < 0.05


def test_a_reverberation_longer_than_the_response_is_lost_in_the_floor():
    """60 dB in 1.5 s, where what is found is 0.3 s long: what is missing is no residue."""
    tail = np.random.default_rng(6).standard_normal(RATE_HZ) * 10 ** (-2 * np.arange(RATE_HZ) / RATE_HZ) * 0.01
    tail[0] = 1.0
    told = found(lambda sound: fftconvolve(sound, tail[None], axes=1)[:, : sound.shape[1]], music(6.0, channels=1))
    assert -40 < told.residue_db < -15
    assert LOST in told.remarks


def test_a_clipper_leaves_what_the_quiet_copy_says_and_more_the_harder_it_is_driven():
    drives_db = (1, 6, 9)
    ours = [found(clipped(drive_db), music()) for drive_db in drives_db]
    theirs = [by_quiet_copy(clipped(drive_db), music()) for drive_db in drives_db]
    residues = [each.residue_db for each in ours]
    assert residues == sorted(residues) and residues[-1] - residues[0] > 3
    assert residues == pytest.approx([each.residue_db for each in theirs], abs=0.6)
    assert [each.most_db for each in ours] == pytest.approx([each.most_db for each in theirs], abs=0.5)
    assert not any(LOST in each.remarks for each in ours)


@pytest.mark.long
def test_a_limiter_leaves_less_than_a_clipper_behind_an_equaliser_too():
    for before in (lambda sound: sound, lambda sound: bell(60, 2, 6)(high_pass(sound))):
        limiter, clipper = (found(lambda sound, after=after: after(before(sound)), music())  # noqa: B023
                            for after in (limited(6), clipped(6)))  # fmt: skip
        assert limiter.residue_db < clipper.residue_db - 3


@pytest.mark.parametrize(("threshold_db", "ratio"), [(-25, 2), (-25, 4)])
def test_a_compressor_attenuates_as_the_quiet_copy_says(threshold_db, ratio):
    """Its make-up does not count; a third of the programme is below the threshold."""
    process = compressed(threshold_db, ratio, makeup_db=6)
    ours, theirs = found(process, music()), by_quiet_copy(process, music())
    assert (ours.attenuation_db, ours.median_db, ours.most_db) == pytest.approx(
        (theirs.attenuation_db, theirs.median_db, theirs.most_db), abs=0.5)  # fmt: skip
    assert theirs.attenuation_db > 5


def test_reduction_that_never_lets_go_is_told_against_its_least():
    """3 dB and 9 dB of reduction in turn: what can be told is the 6 dB between."""
    sound = signals.noise(10.0)
    steps_db = np.repeat([3.0, 9.0] * 5, RATE_HZ)
    told = found(lambda heard: heard * 10 ** (-steps_db / 20), sound)
    assert (told.attenuation_db, told.most_db) == pytest.approx((6, 6), abs=0.1)
    assert RELATIVE in told.remarks


def test_the_rounding_of_the_file_is_a_floor():
    """16 bits under noise at -20 dBFS: steps of 2^-15, squared and divided by 12, are -81.1 dB; by 4, -76.3 dB."""
    sound = signals.noise(4.0).astype(np.float32)
    made = (np.round(0.5 * sound * 2**15) / 2**15).astype(np.float32)
    told = identified(sound, made, RATE_HZ, 2**-15)
    assert told.residue_db == pytest.approx(-75.1, abs=0.7)
    assert told.floor_db == pytest.approx(-70.3, abs=0.1)
    assert LOST in told.remarks


@pytest.mark.parametrize("sound", [
    music(3.0, channels=1), np.repeat(music(3.0, channels=1), 2, axis=0), music(3.0) * [[1], [0]], music(0.6),
    signals.sine(0.0, 2.0), np.ones((2, RATE_HZ)), np.eye(2, RATE_HZ, RATE_HZ // 2), music(1.0, channels=6),
], ids=["mono", "two alike", "one silent", "short", "sine", "constant", "impulse", "six channels"])  # fmt: skip
def test_whatever_sounds_gets_numbers(sound):
    for process in (lambda heard: 0.5 * heard, clipped(6)):
        told = found(process, sound)
        figures = (told.residue_db, told.floor_db, told.attenuation_db, told.median_db, told.most_db)
        assert np.isfinite(figures).all()


@pytest.mark.parametrize(("factors", "seconds", "reason"), [
    ((1, 0), 2.0, NO_SOUND), ((0, 1), 2.0, NOTHING_IN), ((0, 0), 2.0, NO_SOUND), ((1, 1), 0.4, TOO_SHORT)])  # fmt: skip
def test_what_cannot_be_told_has_a_reason(factors, seconds, reason):
    told = identified(*(factor * music(seconds) for factor in factors), RATE_HZ)
    assert (told.residue_db, told.attenuation_db, told.working_share) == (None, None, None)
    assert told.remarks == (reason,)


def test_it_is_the_same_each_time():
    assert found(clipped(6), music(3.0)) == found(clipped(6), music(3.0))


@pytest.mark.long
def test_it_takes_no_more_memory_than_one_of_the_sounds_and_some_blocks():
    """With both sounds of a minute at 192 kHz in stereo that is less than 450 MB in all."""
    sound = np.random.default_rng(4).standard_normal((1, 12 * 192000), np.float32)
    made = np.clip(sound, -1, 1)
    tracemalloc.start()
    identified(sound, made, 192000)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert most - sound.nbytes < 70e6
