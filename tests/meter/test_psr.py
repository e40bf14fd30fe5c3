"""PSR: against every window worked out in full, and what follows from its definition."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from signals import cut, faded_sine, noise, programme, silence, sine

from sweeper.audio.format import AudioFormat
from sweeper.meter import loudness, measure, psr, true_peak, windows
from sweeper.meter.interpolator import AFTER, BEFORE, KERNEL, TAPS


def psr_db(samples, rate_hz=48000, blocks=None):
    format = AudioFormat(len(samples), rate_hz)
    state, heard = psr.start(format), loudness.start(format)
    for block in blocks if blocks is not None else [samples]:
        heard = loudness.advance(heard, block)
        state = psr.advance(state, block, heard)
    return psr.finish(state, heard)["psr_db"]


def in_full(samples, rate_hz):
    """The smallest ratio with every value between all samples worked out: no bound, no search."""
    padded = np.pad(samples.astype(np.float64), ((0, 0), (BEFORE, AFTER + 1)))
    between = np.abs(np.lib.stride_tricks.sliding_window_view(padded, TAPS, axis=1) @ KERNEL).max(axis=(0, 2))
    highest = np.maximum(np.abs(samples).max(axis=0), between[: samples.shape[1]])
    format = AudioFormat(len(samples), rate_hz)
    powers = windows.windows(loudness.advance(loudness.start(format), samples)).powers
    edges = windows.edges(rate_hz, powers.size + windows.STEPS)
    peaks = np.array([highest[edges[k] : edges[k + windows.STEPS]].max() for k in range(powers.size)])
    heard = powers >= windows.LEAST_POWER
    return (20 * np.log10(peaks) - 10 * np.log10(powers) + 0.691)[heard].min()


@pytest.mark.parametrize("rate_hz", [8000, 11025])
@pytest.mark.parametrize(
    "change", [lambda x: x, lambda x: np.clip(4 * x, -0.5, 0.5), lambda x: x[:, ::-1],
               lambda x: x * np.where(np.arange(x.shape[1]) < x.shape[1] // 2, 1e-4, 1.0),
               lambda x: 0 * x + np.sin(np.pi / 20 * (np.arange(x.shape[1]) + 0.5))],
    ids=["wandering", "clipped", "backwards", "partly under the gate", "a tone hardly over its samples"],
)  # fmt: skip
@pytest.mark.parametrize("seed", [1, 2])
def test_what_is_not_interpolated_does_not_matter(rate_hz, change, seed):
    music = np.ascontiguousarray(change(programme(7.35, rate_hz, seed=seed))).astype(np.float32)
    assert psr_db(music, rate_hz).value == pytest.approx(in_full(music, rate_hz), abs=1e-5)


def test_the_peak_between_the_samples_counts():
    # BS.1770-5 Annex 2: a sine at a quarter of the rate, sampled at 45 degrees, peaks 3.01 dB over its samples
    tone = faded_sine(4, 0.5, 45.0, 48000, 5.0)
    values = measure(tone, AudioFormat(2, 48000))
    assert values["true_peak_dbtp"] - values["sample_peak_dbfs"] == pytest.approx(3.01, abs=0.05)
    assert psr_db(tone).value == pytest.approx(-6.0206 - values["short_term_max_lufs"], abs=0.02)


def test_the_reference_sine_has_none_and_3_db_in_one_channel():
    # ITU-R BS.1770-5: 997 Hz at full scale is 0 LKFS in both channels, -3.01 in one
    tone = sine(0.0, 5.0, hz=997.0)
    assert psr_db(tone).value == pytest.approx(0.0, abs=0.005)
    assert psr_db(tone * [[1.0], [0.0]]).value == pytest.approx(3.0103, abs=0.005)


def test_it_is_the_smallest_of_all_windows_and_never_over_plr():
    # A peak of its own in one half leaves the other half's ratio as the smallest
    tone = sine(-20.0, 10.0, hz=997.0)
    tone[:, 40000] = 0.9
    assert psr_db(tone).value == pytest.approx(0.0, abs=0.01)


def test_what_is_under_the_gate_does_not_count():
    # A square wave at -75 dBFS would have the smallest ratio
    square = 10 ** (-75 / 20) * np.sign(sine(0.0, 5.0, hz=997.0))
    music = np.concatenate((square, silence(4.0), programme(5.0)), axis=1)
    assert psr_db(music).value > 6.0
    assert psr_db(square).reason == "no 3 s of it are above -70 LUFS"


@pytest.mark.parametrize(
    ("samples", "why"),
    [(np.zeros((2, 0)), "no samples"), (noise(2.99), "shorter than 3 s"),
     (noise(4.0, channels=4), "no loudness weights are defined for 4 channels"),
     (silence(5.0), "no 3 s of it are above -70 LUFS")],
)  # fmt: skip
def test_what_has_no_ratio_says_why(samples, why):
    assert (psr_db(samples).value, psr_db(samples).reason) == (None, why)


def test_the_whole_files_peak_and_one_window_are_the_true_peak_and_plr():
    # Exactly 3 s have one window
    music = programme(3.0).astype(np.float32)
    format = AudioFormat(2, 48000)
    peak = true_peak.finish(true_peak.advance(true_peak.start(format), music))["true_peak_dbtp"].value
    short_term = loudness.finish(loudness.advance(loudness.start(format), music))["short_term_max_lufs"].value
    assert psr_db(music).value == pytest.approx(peak - short_term, abs=1e-6)


@settings(max_examples=15, deadline=None)
@given(sizes=st.lists(st.integers(50, 40000), min_size=1, max_size=5), frames=st.integers(1, 90000))
def test_chunking_never_changes_a_bit(sizes, frames):
    music = programme(11.3, 8000)[:, :frames].astype(np.float32)
    assert psr_db(music, 8000, cut(music, sizes)) == psr_db(music, 8000)
