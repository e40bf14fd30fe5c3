"""EBU Tech 3341 v4 (Nov 2023), Table 1: the minimum requirements, made in code.

Cases 7 and 8 are authentic programmes and cannot be made. Beside the standard's tolerance stands a narrow one of
ours, around the reading that follows from the signal: 0.1 LU would hide real mistakes.
"""

import numpy as np
import pytest
from delivery_rates import EVERY, RATES
from signals import burst_between_samples, faded_sine, silence, sine, steps, surround

from sweeper.audio.format import AudioFormat
from sweeper.meter import loudness, true_peak

TWENTY = range(20)
CASE_5_GAP = 20.1  # seconds


def measured(samples, rate_hz, meter=loudness):
    """What one measurement finds: key -> number or None."""
    state = meter.advance(meter.start(AudioFormat(len(samples), rate_hz)), samples)
    return {key: finding.value for key, finding in meter.finish(state).items()}


def windows_of(samples, starts, frames, rate_hz, key):
    """The reading of each window of some frames, cut out."""
    return [measured(samples[:, first : first + frames], rate_hz)[key] for first in starts]


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize(("case", "level_dbfs", "exact"), [(1, -23.0, -22.9933), (2, -33.0, -32.9933)])
def test_cases_1_and_2_steady_tone(case, level_dbfs, exact, rate_hz):
    found = measured(sine(level_dbfs, 20.0, rate_hz), rate_hz)
    readings = [found[key] for key in ("momentary_max_lufs", "short_term_max_lufs", "loudness_lufs")]
    assert readings == pytest.approx([level_dbfs] * 3, abs=0.1), f"EBU Tech 3341 Table 1, case {case}"
    assert readings == pytest.approx([exact] * 3, abs=0.002)


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize(
    ("case", "levels", "exact"),
    [
        (3, [(10, -36), (60, -23), (10, -36)], -23.0139),
        (4, [(10, -72), (10, -36), (60, -23), (10, -36), (10, -72)], -23.0139),
        (5, [(20, -26), (CASE_5_GAP, -20), (20, -26)], -22.9787),
    ],
)
def test_cases_3_to_5_gating(case, levels, exact, rate_hz):
    reading = measured(steps(levels, rate_hz), rate_hz)["loudness_lufs"]
    assert reading == pytest.approx(-23.0, abs=0.1), f"EBU Tech 3341 Table 1, case {case}"
    assert reading == pytest.approx(exact, abs=0.002)


@pytest.mark.parametrize("rate_hz", RATES)
def test_case_6_surround(rate_hz):
    reading = measured(surround([-28, -28, -24, -30, -30], 20.0, rate_hz), rate_hz)["loudness_lufs"]
    assert reading == pytest.approx(-23.0, abs=0.1), "EBU Tech 3341 Table 1, case 6"
    assert reading == pytest.approx(-23.0163, abs=0.002)


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize(
    ("case", "key", "levels", "window_s", "every_s", "exact"),
    [
        (9, "short_term_max_lufs", [(1.34, -20), (1.66, -30)] * 5, 3.0, 1.61, -22.986),
        (12, "momentary_max_lufs", [(0.18, -20), (0.22, -30)] * 25, 0.4, 1.03, -22.960),
    ],
)
def test_cases_9_and_12_windows_are_constant(case, key, levels, window_s, every_s, exact, rate_hz):
    tone = steps(levels, rate_hz)
    frames = round(window_s * rate_hz)
    starts = range(0, tone.shape[1] - frames, round(every_s * rate_hz))
    readings = windows_of(tone, starts, frames, rate_hz, key)
    whole = measured(tone, rate_hz)[key]
    assert whole == pytest.approx(-23.0, abs=0.1), f"EBU Tech 3341 Table 1, case {case}"
    assert readings == pytest.approx([-23.0] * len(readings), abs=0.1), f"EBU Tech 3341 Table 1, case {case}"
    assert whole == pytest.approx(exact, abs=0.005)


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize("file", TWENTY)
def test_case_10_short_term_maximum(file, rate_hz):
    samples = steps([(file * 0.15, -np.inf), (3.0, -23.0), (1.0, -np.inf)], rate_hz)
    reading = measured(samples, rate_hz)["short_term_max_lufs"]
    assert reading == pytest.approx(-23.0, abs=0.1), f"EBU Tech 3341 Table 1, case 10-{file + 1}"
    assert reading == pytest.approx(-22.993, abs=0.002)


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize(
    ("case", "key", "lag_s", "tone_s"),
    [(11, "short_term_max_lufs", 0.15, 3.0), (14, "momentary_max_lufs", 0.02, 0.4)],
)
def test_cases_11_and_14_maximum_so_far_of_a_rising_tone(case, key, lag_s, tone_s, rate_hz):
    state, readings = loudness.start(AudioFormat(2, rate_hz)), []
    for turn in TWENTY:
        levels = [(turn * lag_s, -np.inf), (tone_s, -38.0 + turn), (tone_s - turn * lag_s, -np.inf)]
        state = loudness.advance(state, steps(levels, rate_hz))
        readings.append(loudness.finish(state)[key].value)
    assert readings == pytest.approx(list(range(-38, -18)), abs=0.1), f"EBU Tech 3341 Table 1, case {case}"
    assert readings == pytest.approx([level + 0.007 for level in range(-38, -18)], abs=0.003)


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize("file", TWENTY)
def test_case_13_momentary_maximum(file, rate_hz):
    samples = steps([(file * 0.02, -np.inf), (0.4, -23.0), (1.0, -np.inf)], rate_hz)
    reading = measured(samples, rate_hz)["momentary_max_lufs"]
    assert reading == pytest.approx(-23.0, abs=0.1), f"EBU Tech 3341 Table 1, case 13-{file + 1}"
    assert reading == pytest.approx(-22.994, abs=0.002)


@pytest.mark.parametrize("rate_hz", EVERY)
@pytest.mark.parametrize(
    ("case", "divisor", "amplitude", "phase_deg", "expected", "exact"),
    [
        (15, 4, 0.50, 0.0, -6.0, -6.0206),
        (16, 4, 0.50, 45.0, -6.0, -6.0206),
        (17, 6, 0.50, 60.0, -6.0, -6.0206),
        (18, 8, 0.50, 67.5, -6.0, -6.0206),
        (19, 4, 1.41, 45.0, 3.0, 2.984),
    ],
)
def test_cases_15_to_19_true_peak_of_tones(case, divisor, amplitude, phase_deg, expected, exact, rate_hz):
    reading = measured(faded_sine(divisor, amplitude, phase_deg, rate_hz), rate_hz, true_peak)["true_peak_dbtp"]
    assert expected - 0.4 <= reading <= expected + 0.2, f"EBU Tech 3341 Table 1, case {case}"
    assert reading == pytest.approx(exact, abs=0.011)


@pytest.mark.parametrize("rate_hz", EVERY)
@pytest.mark.parametrize("offset", range(4))
def test_cases_20_to_23_true_peak_of_a_burst(offset, rate_hz):
    # The exact reading follows from the burst's band-limited peak; the low-pass takes 0.08 dB off
    reading = measured(burst_between_samples(offset), rate_hz, true_peak)["true_peak_dbtp"]
    assert -0.4 <= reading <= 0.2, f"EBU Tech 3341 Table 1, case {20 + offset}"
    assert reading == pytest.approx(-0.080, abs=0.005)


@pytest.mark.parametrize(("offset", "highest"), [(0, 0.985), (1, 0.948), (2, 0.749), (3, 0.948)])
def test_the_burst_is_the_standards(offset, highest):
    # Sample peaks of cases 20 to 23 in the EBU's own files
    assert np.abs(burst_between_samples(offset)).max() == pytest.approx(highest, abs=0.001)


def test_the_lfe_is_left_out():
    # Section 2.10
    with_lfe = measured(surround([-28, -28, -24, -10, -30, -30], 20.0), 48000)["loudness_lufs"]
    assert with_lfe == pytest.approx(-23.0163, abs=0.002)


def test_one_kilohertz_at_minus_18_in_both_channels():
    # Section 2.9: reads -18.0 LUFS
    assert measured(sine(-18.0, 5.0), 48000)["loudness_lufs"] == pytest.approx(-17.9933, abs=0.002)


def test_a_range_under_a_minute_is_marked():
    # Section 2.4
    tone = sine(-23.0, 60.0, 8000)
    state = loudness.advance(loudness.start(AudioFormat(2, 8000)), tone[:, :-800])
    assert "not yet stable" in loudness.finish(state)["loudness_range_lu"].reason
    assert loudness.finish(loudness.advance(state, tone[:, -800:]))["loudness_range_lu"].reason == ""


def test_incomplete_blocks_at_the_end_are_not_used():
    # Section 2.3
    ending = np.concatenate([sine(-23.0, 0.4), silence(0.06)], axis=1)
    assert measured(ending, 48000)["loudness_lufs"] == pytest.approx(-22.994, abs=0.002)
