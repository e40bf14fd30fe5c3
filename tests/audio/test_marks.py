"""Marks of a sound: the CRC-32 that everybody computes, however the sound is cut, and where it first differs."""

from __future__ import annotations

import zlib

import numpy as np
import pytest

from sweeper.audio.marks import EVERY_S, Marks

RATE_HZ = 100


def marks(sound: np.ndarray, cut: int = 10**9) -> list[str]:
    found = Marks(len(sound), RATE_HZ)
    for at in range(0, sound.shape[1], cut):
        found.advance(sound[:, at : at + cut])
    assert found.frames == sound.shape[1]
    return found.text().split()


@pytest.fixture
def noise() -> np.ndarray:
    return np.random.default_rng(3).uniform(-1, 1, (2, 1234)).astype(np.float32)


def test_it_is_crc_32_as_iso_3309_and_ethernet_have_it():
    """The check value of "123456789" is cbf43926 (ITU-T V.42; Williams, A painless guide to CRC error detection)."""
    assert f"{zlib.crc32(b'123456789'):08x}" == "cbf43926"
    samples = np.frombuffer(b"12345678", "<f4").reshape(1, 2)
    assert marks(samples) == [f"{zlib.crc32(b'12345678'):08x}"]


def test_each_mark_is_of_all_up_to_there_and_of_each_channel_by_itself(noise):
    found = marks(noise)
    assert len(found) == 3, "after 5 s, after 10 s, and at 12.34 s"
    for mark, end in zip(found, (500, 1000, 1234), strict=True):
        assert mark == "".join(f"{zlib.crc32(np.ascontiguousarray(side[:end]).tobytes()):08x}" for side in noise)


@pytest.mark.parametrize("cut", [1, 7, 499, 500, 501, 1024])
def test_cutting_changes_nothing(noise, cut):
    assert marks(noise, cut) == marks(noise)


def test_one_bit_of_one_sample_shows_from_there_on_in_its_channel(noise):
    other = noise.copy()
    other.view(np.uint32)[1, 733] ^= 1
    pairs = list(zip(marks(noise), marks(other), strict=True))
    assert pairs[0][0] == pairs[0][1]
    for one, another in pairs[1:]:
        assert one[:8] == another[:8], "the left is as it was"
        assert one[8:] != another[8:]


def test_a_sound_that_ends_on_a_mark_has_it_once():
    assert len(marks(np.ones((1, 2 * EVERY_S * RATE_HZ), np.float32))) == 2


def test_float64_is_marked_as_the_float32_that_is_written(noise):
    assert marks(noise.astype(np.float64)) == marks(noise)
