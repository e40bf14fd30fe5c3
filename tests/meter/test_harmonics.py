"""Harmonics of tones through known curves, against their Fourier series."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sweeper.meter.harmonics import NO_TONE, coherent_hz, harmonics, tone
from sweeper.quantities import NO_HARMONICS

RATE_HZ = 48000
FULL_SCALE_DBFS = -20 * math.log10(math.sqrt(2))


def cosine(rate_hz: int = RATE_HZ, hz: int = 997) -> np.ndarray:
    return np.cos(2 * np.pi * hz * np.arange(rate_hz) / rate_hz)[None]


@pytest.mark.parametrize(("drive_db", "odd_dbc"), [
    (0.1, (-56.815, -57.137, -57.627, -58.293)), (1, (-28.673, -32.140, -38.507, -54.016)),
    (6, (-12.924, -26.986, -35.684, -32.925)), (12, (-10.299, -16.336, -21.935, -28.473))])  # fmt: skip
def test_a_clipped_sine(drive_db, odd_dbc):
    """Fourier series of a sine clipped at 1/A, in closed form: b_n for n odd; there is none for n even."""
    driven = 10 ** (drive_db / 20) * tone(997, FULL_SCALE_DBFS, RATE_HZ, RATE_HZ)
    found = harmonics(np.clip(driven, -1, 1)[None], 997, RATE_HZ)
    assert found.dbc[1::2] == pytest.approx(odd_dbc, abs=0.01)
    assert found.dbc[0::2] == (None,) * 4
    assert found.thd_pct == pytest.approx(100 * math.sqrt(sum(10 ** (one / 10) for one in odd_dbc)), rel=1e-3)


@pytest.mark.parametrize(("curve", "thd_pct", "dbc"), [
    (lambda x: x - 0.1 * x**3, 2.702703, {3: -31.364}),
    (lambda x: x + 0.1 * x**2, 5.0, {2: -26.0206}),
    (lambda x: x + 0.01 * (2 * x**2 - 1) + 0.003 * (4 * x**3 - 3 * x), 1.044031, {2: -40.0, 3: -50.4576}),
    (lambda x: 0.9 * x + 0.1 * (16 * x**5 - 20 * x**3 + 5 * x), 11.1111, {5: -19.0849}),
])  # fmt: skip
@pytest.mark.parametrize("rate_hz", [44100, 48000])
def test_polynomials_have_the_harmonics_of_their_powers(curve, thd_pct, dbc, rate_hz):
    """Chebyshev: T_n(cos a) = cos na; cos^2 = (1 + cos 2a) / 2, cos^3 = (3 cos a + cos 3a) / 4."""
    found = harmonics(curve(cosine(rate_hz)).astype(np.float32), 997, rate_hz)
    assert found.thd_pct == pytest.approx(thd_pct, rel=1e-4)
    for number, level in enumerate(found.dbc, 2):
        assert (level == pytest.approx(dbc[number], abs=0.01)) if number in dbc else level is None


def test_levels_are_of_all_channels_together():
    """One channel of two distorts: the harmonic is 3.01 dB less against the tone in both."""
    both = np.concatenate([cosine(), cosine() + 0.1 * cosine() ** 2])
    found = harmonics(both, 997, RATE_HZ)
    assert found.dbc[0] == pytest.approx(-26.0206 - 3.0103, abs=0.01)
    assert found.level_dbfs == pytest.approx(FULL_SCALE_DBFS, abs=1e-6)


def test_a_harmonic_that_is_lost_in_noise_does_not_count():
    """White noise of RMS s has s^2 / (rate / 2) a line: a harmonic 20 dB above it counts, and one at it does not."""
    noise = 1e-3 * np.random.default_rng(4).standard_normal((1, RATE_HZ))
    line_db = 20 * math.log10(1e-3) - 10 * math.log10(RATE_HZ / 2)
    over_db, at_db = line_db + 20 - FULL_SCALE_DBFS, line_db - FULL_SCALE_DBFS
    sound = cosine() + 10 ** (over_db / 20) * cosine(hz=1994) + 10 ** (at_db / 20) * cosine(hz=2991)
    found = harmonics(sound + noise, 997, RATE_HZ)
    assert found.dbc[0] == pytest.approx(over_db, abs=2)
    assert found.dbc[1:] == (None,) * 7
    assert found.floor_pct == pytest.approx(100 * math.sqrt(7) * 10 ** ((at_db + 10) / 20), rel=0.05)
    clean = harmonics(cosine() + noise, 997, RATE_HZ)
    assert (clean.thd_pct, clean.remark) == (0.0, NO_HARMONICS)


def test_what_does_not_come_out_has_no_distortion():
    for sound in (np.zeros((2, RATE_HZ)), np.random.default_rng(4).standard_normal((2, RATE_HZ))):
        found = harmonics(sound, 997, RATE_HZ)
        assert (found.level_dbfs, found.thd_pct, found.remark) == (None, None, NO_TONE)


def test_harmonics_beyond_half_the_rate_are_none():
    found = harmonics(np.clip(2 * cosine(RATE_HZ, 7993), -1, 1), 7993, RATE_HZ)
    # The third harmonic by the Fourier series of a sine clipped at half its height, worked out in numpy
    assert found.dbc[:2] == (None, pytest.approx(-12.905, abs=0.01))
    assert found.dbc[2:] == (None,) * 6


@pytest.mark.parametrize(("near_hz", "rate_hz", "hz"), [
    (1000, 44100, 997), (1000, 192000, 997), (100, 48000, 101), (30, 44100, 29), (4000, 48000, 4001),
    (23, 46000, 19)])  # fmt: skip
def test_the_frequency_is_the_nearest_prime(near_hz, rate_hz, hz):
    """997 Hz is what AES17 and ITU-R BS.1770 use, for the same reason."""
    assert coherent_hz(near_hz, rate_hz) == hz


def test_no_tone_is_made_where_there_is_no_room_for_harmonics():
    for hz in (19, 12001):
        with pytest.raises(ValueError, match="20 to 12000 Hz"):
            coherent_hz(hz, RATE_HZ)
    with pytest.raises(ValueError, match="48000 frames"):
        harmonics(np.zeros((1, 100)), 997, RATE_HZ)
