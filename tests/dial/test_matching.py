"""Bypass at matched level, held against an outside meter (pyloudnorm, De Man's filters) and plain arithmetic."""

from __future__ import annotations

import numpy as np
import pyloudnorm
import pytest

from sweeper.audio.format import AudioFormat
from sweeper.dial import matching

STEREO = AudioFormat(2, 48000)
BLOCK = 1024


def fed(dry: np.ndarray, wet: np.ndarray, block: int = BLOCK) -> matching.Heard:
    state = matching.start(STEREO)
    for at in range(0, dry.shape[1], block):
        state = matching.heard(state, dry[:, at : at + block], wet[:, at : at + block])
    return state


def noise(seconds: float, level: float = 0.1, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).standard_normal((2, round(48000 * seconds))).astype(np.float32) * level


@pytest.mark.parametrize("factor", [0.25, 0.5, 1.0, 2.0, 4.0])
def test_a_plain_gain_is_matched_by_itself(factor):
    dry = noise(4.0)
    assert matching.bypass_gain_db(fed(dry, dry * np.float32(factor))) == pytest.approx(20 * np.log10(factor), abs=1e-3)


@pytest.mark.parametrize(("dry_hz", "wet_hz"), [(60, 3000), (3000, 60), (1000, 10000)])
def test_what_sounds_elsewhere_is_matched_by_ear_and_not_by_power(dry_hz, wet_hz):
    time = np.arange(48000 * 4) / 48000
    dry, wet = (np.tile(0.1 * np.sin(2 * np.pi * hz * time), (2, 1)).astype(np.float32) for hz in (dry_hz, wet_hz))
    gain_db = matching.bypass_gain_db(fed(dry, wet))
    meter = pyloudnorm.Meter(48000, filter_class="DeMan")
    matched = dry[:, -3 * 48000 :] * 10 ** (gain_db / 20)
    ours, theirs = (meter.integrated_loudness(np.asarray(s, np.float64).T) for s in (matched, wet[:, -3 * 48000 :]))
    assert ours == pytest.approx(theirs, abs=0.1)
    assert abs(gain_db) > 0.5, "plain power would have said 0 dB"


def test_only_the_last_three_seconds_count():
    dry = noise(8.0)
    wet = dry.copy()
    wet[:, : 5 * 48000 - BLOCK] *= 10
    assert matching.bypass_gain_db(fed(dry, wet)) == pytest.approx(0.0, abs=0.01)
    wet = dry.copy()
    wet[:, : round(5.5 * 48000)] *= 10
    assert matching.bypass_gain_db(fed(dry, wet)) > 10


def test_how_it_arrives_changes_nothing():
    dry, wet = noise(2.0), noise(2.0, 0.3, 2)
    assert matching.bypass_gain_db(fed(dry, wet, 64)) == pytest.approx(matching.bypass_gain_db(fed(dry, wet)), abs=1e-6)


def test_silence_is_not_raised_and_no_gain_is_absurd():
    loud, none = noise(1.0), np.zeros((2, 48000), np.float32)
    assert matching.bypass_gain_db(matching.start(STEREO)) == 0.0
    assert matching.bypass_gain_db(fed(none, loud)) == 0.0
    assert matching.bypass_gain_db(fed(loud, none)) == 0.0
    assert matching.bypass_gain_db(fed(loud * np.float32(1e-3), loud * np.float32(2))) == matching.MOST_DB


def test_both_are_turned_down_by_what_would_clip():
    dry = noise(4.0, 0.05)
    dry[0, 1000] = 0.5
    state = fed(dry, dry * np.float32(4))
    assert matching.headroom_db(state) == pytest.approx(-20 * np.log10(0.5 * 4) - matching.ROOM_DB, abs=0.01)
    assert matching.headroom_db(fed(dry, dry)) == 0.0
    assert matching.headroom_db(matching.start(STEREO)) == 0.0


def test_an_output_with_larger_peaks_decides_as_long_as_it_is_heard():
    dry = noise(8.0, 0.05)
    wet = dry.copy()
    wet[1, 48000] = -2.0
    lowered_db = -20 * np.log10(2) - matching.ROOM_DB
    assert matching.headroom_db(fed(dry[:, :96000], wet[:, :96000])) == pytest.approx(lowered_db)
    assert matching.headroom_db(fed(dry, wet)) == 0.0
