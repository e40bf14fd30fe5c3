"""ITU-R BS.1770-5 (11/2023): readings that its text and tables fix."""

import numpy as np
import pytest
from delivery_rates import EVERY, RATES
from scipy import signal
from signals import faded_sine, sine, steps, surround

from sweeper.audio.format import AudioFormat
from sweeper.meter import loudness, true_peak
from sweeper.meter.k_weighting import k_filter

SILENT = -np.inf
#: Annex 1, Tables 1 and 2: the two filters at 48 kHz.
TABLES_1_AND_2 = [
    [1.53512485958697, -2.69169618940638, 1.19839281085285, 1.0, -1.69065929318241, 0.73248077421585],
    [1.0, -2.0, 1.0, 1.0, -1.99004745483398, 0.99007225036621],
]


METERS = {"loudness_lufs": loudness, "true_peak_dbtp": true_peak}


def reading(samples, key="loudness_lufs", rate_hz=48000):
    meter = METERS[key]
    state = meter.advance(meter.start(AudioFormat(len(samples), rate_hz)), samples)
    return meter.finish(state)[key].value


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize("channel", ["left", "right", "centre"])
def test_a_full_scale_sine_in_one_front_channel(channel, rate_hz):
    # Annex 1, after eq. (2): 997 Hz at 0 dBFS in L, C or R reads -3.01 LKFS
    peaks = [0.0 if name == channel else SILENT for name in ("left", "right", "centre", "ls", "rs")]
    assert reading(surround(peaks, 5.0, rate_hz, 997.0), rate_hz=rate_hz) == pytest.approx(-3.01, abs=0.002)


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize(
    ("hz", "one", "both"),
    [(25, -14.0941, -11.0838), (100, -4.8348, -1.8245), (500, -3.6588, -0.6485), (997, -3.0103, 0.0),
     (1000, -3.0036, 0.0067), (2000, -0.6300, 2.3803), (10000, 0.3406, 3.3509)],
)  # fmt: skip
def test_full_scale_sines(hz, one, both, rate_hz):
    # Annex 1 Tables 1 and 2 with eq. (1) and (2), worked out for each frequency
    tone = sine(0.0, 4.0, rate_hz, hz)
    assert reading(tone, rate_hz=rate_hz) == pytest.approx(both, abs=0.005)
    assert reading(tone[:1], rate_hz=rate_hz) == pytest.approx(one, abs=0.005)


@pytest.mark.parametrize("rate_hz", EVERY)
def test_the_weighting_is_the_same_at_every_rate(rate_hz):
    # Annex 1: coefficients "should be chosen to provide the same frequency response" as at 48 kHz; within 0.001 dB
    hz = np.geomspace(20.0, min(20000.0, 0.45 * rate_hz), 500)
    _, wanted = signal.sosfreqz(TABLES_1_AND_2, hz, fs=48000)
    _, found = signal.sosfreqz(k_filter(rate_hz), hz, fs=rate_hz)
    assert np.abs(20 * np.log10(np.abs(found / wanted))).max() < 0.001


@pytest.mark.parametrize("rate_hz", EVERY)
def test_the_weighting_is_not_made_flat_where_the_standard_is_not(rate_hz):
    # Table 2's high-pass has +0.0433 dB in its passband, which a filter designed afresh would lose
    _, found = signal.sosfreqz(k_filter(rate_hz), [500.0], fs=rate_hz)
    assert 20 * np.log10(np.abs(found[0])) == pytest.approx(0.0425, abs=0.001)


@pytest.mark.parametrize("layout", [5, 6])
@pytest.mark.parametrize("side", [-1, -2])
def test_surround_channels_weigh_1_41(side, layout):
    # Annex 1 Table 3: 10 log10(1.41) = 1.4922 over the left channel
    front, back = [SILENT] * layout, [SILENT] * layout
    front[0] = back[side] = -20.0
    more = reading(surround(back, 5.0)) - reading(surround(front, 5.0))
    assert more == pytest.approx(1.4922, abs=1e-4)


def test_the_lfe_is_not_measured():
    # Annex 1 Table 3 has no weight for it
    assert reading(surround([SILENT, SILENT, SILENT, -10.0, SILENT, SILENT], 5.0)) is None


@pytest.mark.parametrize("rate_hz", RATES)
def test_the_relative_gate(rate_hz):
    # Annex 1 eq. (5) to (7), in the manner of the relative-gate compliance signal: what lies over 10 LU under
    # the rest leaves the reading alone
    # The four blocks that straddle the step pass the gate in part: 0.02 LU
    gated = steps([(20.0, -10.0), (20.0, -30.0)], rate_hz)
    assert reading(gated, rate_hz=rate_hz) == pytest.approx(-9.99, abs=0.1)
    assert reading(gated, rate_hz=rate_hz) == pytest.approx(-10.026, abs=0.005)


@pytest.mark.parametrize("rate_hz", RATES)
def test_the_absolute_gate(rate_hz):
    # Annex 1 eq. (4), in the manner of the absolute-gate compliance signal: -69.5 counts, -72 does not
    gated = steps([(20.0, -69.5), (20.0, -72.0)], rate_hz)
    assert reading(gated, rate_hz=rate_hz) == pytest.approx(-69.5, abs=0.1)
    assert reading(gated, rate_hz=rate_hz) == pytest.approx(-69.494, abs=0.005)


def test_incomplete_blocks_are_not_used():
    # Annex 1: "incomplete gating blocks at the end are not used": 90 ms of loud tone are never seen
    tail = steps([(4.0, -30.0), (0.09, 0.0)])
    assert reading(tail) == reading(tail[:, :192000])


@pytest.mark.parametrize("rate_hz", EVERY)
def test_true_peak_of_a_quarter_rate_sine(rate_hz):
    # Annex 2: a sine at a quarter of the rate, sampled at 45 degrees, peaks 3 dB over its samples
    tone = faded_sine(4, 1.0, 45.0, rate_hz)
    over_db = reading(tone, "true_peak_dbtp", rate_hz) - 20 * np.log10(np.abs(tone).max())
    assert over_db == pytest.approx(3.0103, abs=0.02)


@pytest.mark.parametrize(("fraction", "under_db"), [(0.45, 0.034)])
@pytest.mark.parametrize("rate_hz", EVERY)
def test_true_peak_under_reads_no_more_than_the_table_allows(fraction, under_db, rate_hz):
    # Annex 2, table of the under-read at 16 times: 0.034 dB for a sine at 0.45 of the rate
    frames = np.arange(rate_hz // 4)
    fade = np.hanning(frames.size) ** 0.25
    tone = fade * np.sin(2 * np.pi * fraction * frames + 0.3)
    assert -under_db - 0.005 < reading(tone[None], "true_peak_dbtp", rate_hz) < 0.005
