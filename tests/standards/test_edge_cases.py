"""What the standards' texts imply for streams that are empty, short, silent, out of range or upside down."""

import numpy as np
import pytest
from signals import faded_sine, programme, silence, sine, surround

from sweeper.audio.format import AudioFormat
from sweeper.meter import measure

PEAKS = ("sample_peak_dbfs", "true_peak_dbtp")
#: What a gain moves, to the same amount; and what it leaves alone.
MOVED = ("loudness_lufs", "momentary_max_lufs", "short_term_max_lufs", "rms_dbfs", "noise_floor_dbfs", *PEAKS)
LEFT = ("loudness_range_lu", "plr_db", "psr_db", "crest_db", "crest_loud_db", "correlation", "correlation_worst",
        "side_mid_db", "balance_db", "mono_loss_lu", "tilt_db")  # fmt: skip


def measured(samples, rate_hz=48000):
    return measure(samples, AudioFormat(len(samples), rate_hz))


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_what_is_no_number_is_refused(bad):
    # Follows from the recursive filters of BS.1770-5: one such sample would silence every later block
    tone = sine(-13.0, 1.0)
    tone[0, 30000] = bad
    with pytest.raises(ValueError, match="frame 30000 of channel 0"):
        measured(tone)


@pytest.mark.parametrize("samples", [silence(5.0), np.full((2, 48000 * 5), 1e-310)], ids=["zeros", "denormals"])
def test_silence_has_no_level_at_all(samples):
    # BS.1770-5 eq. (4): no block passes the gate; the logarithm of nothing is no number
    found = measured(samples)
    there = {key for key, value in found.values.items() if value is not None}
    assert there == {"overs", "over_runs", "longest_over_ms"}
    assert set(found.reasons) == {key for key, value in found.values.items() if value is None}


def test_all_under_the_gate_has_peaks_but_no_loudness():
    # BS.1770-5 eq. (4): -70 LKFS and under does not count
    found = measured(sine(-75.0, 5.0))
    assert found["loudness_lufs"] is found["loudness_range_lu"] is found["psr_db"] is None
    assert found["true_peak_dbtp"] == pytest.approx(-75.0, abs=0.01)
    assert found.reasons["loudness_lufs"] == "nothing is louder than -70 LUFS"


def test_under_400_ms_there_are_peaks_and_no_loudness():
    # BS.1770-5 Annex 1: incomplete gating blocks are not used
    found = measured(sine(-23.0, 0.399))
    assert (found["loudness_lufs"], found.reasons["loudness_lufs"]) == (None, "shorter than 400 ms")
    assert found["sample_peak_dbfs"] == pytest.approx(-23.0, abs=0.01)
    assert found["true_peak_dbtp"] == pytest.approx(-23.0, abs=0.02)


@pytest.mark.parametrize("seconds", [0.4, 0.46])
def test_400_ms_are_one_block_and_a_tail_is_none(seconds):
    # The same; a tail of silence that counted would read 0.2 LU lower
    ending = np.concatenate([sine(-23.0, 0.4), silence(seconds - 0.4)], axis=1)
    assert measured(ending)["loudness_lufs"] == pytest.approx(-22.994, abs=0.002)


def test_under_3_s_there_is_no_short_term_and_under_a_minute_the_range_is_marked():
    # EBU Tech 3341 sections 2.2 and 2.4
    short, minute = measured(programme(2.99, 8000), 8000), measured(programme(59.0, 8000), 8000)
    for key in ("short_term_max_lufs", "loudness_range_lu", "psr_db", "crest_loud_db", "correlation_worst"):
        assert (short[key], short.reasons[key]) == (None, "shorter than 3 s")
    assert minute["loudness_range_lu"] is not None
    assert "not yet stable" in minute.reasons["loudness_range_lu"]


def test_mono_is_one_channel_and_reads_3_lu_less():
    # BS.1770-5 Annex 1 eq. (2): channels add up; 1 kHz is 0.007 LU over 997 Hz
    assert measured(sine(-23.0, 5.0, channels=1))["loudness_lufs"] == pytest.approx(-26.0036, abs=0.002)


def test_5_1_reads_as_5_0_whatever_the_lfe_does():
    # BS.1770-5 Table 3; EBU Tech 3341 case 6 and section 2.10
    with_lfe = measured(surround([-28, -28, -24, -10, -30, -30], 5.0))["loudness_lufs"]
    without = measured(surround([-28, -28, -24, -30, -30], 5.0))["loudness_lufs"]
    assert with_lfe == without == pytest.approx(-23.0163, abs=0.002)


def test_nothing_is_clamped_over_full_scale():
    # BS.1770-5 has no upper bound: 6 dB more reads 6 dB more
    found = measured(sine(6.0, 5.0))
    assert found["loudness_lufs"] == pytest.approx(6.007, abs=0.002)
    assert found["true_peak_dbtp"] == pytest.approx(6.0, abs=0.02)


def test_a_rise_at_the_very_end_is_found():
    # BS.1770-5 Annex 2: the interpolator has to run on; the highest sample is -0.915 dBFS
    ending = silence(1.0)
    ending[:, -3:] = [0.5, 0.9, 0.9]
    assert measured(ending)["true_peak_dbtp"] >= -0.915


@pytest.mark.parametrize("gain_db", [-18.0, 0.5, 11.0])
def test_a_gain_moves_levels_by_itself_and_leaves_the_rest(gain_db):
    # Follows from every definition, as long as no window crosses -70 LUFS
    music = programme(8.0)
    before, after = measured(music), measured(music * 10 ** (gain_db / 20))
    for key in MOVED:
        assert after[key] - before[key] == pytest.approx(gain_db, abs=1e-4), key
    for key in LEFT:
        assert after[key] == pytest.approx(before[key], abs=1e-4), key


def test_backwards_the_levels_are_the_same():
    # Sample peak and RMS know no time; the interpolator is symmetrical
    music = programme(5.0)
    before, after = measured(music), measured(music[:, ::-1])
    for key in ("sample_peak_dbfs", "true_peak_dbtp", "rms_dbfs", "crest_db", "dc_dbfs", "correlation"):
        assert after[key] == pytest.approx(before[key], abs=1e-6), key


def test_channels_changed_over_read_the_same():
    # BS.1770-5 Table 3: left and right weigh alike
    music = programme(5.0)
    before, after = measured(music), measured(music[::-1])
    for key in {*MOVED, *LEFT} - {"balance_db"}:
        assert after[key] == pytest.approx(before[key], abs=1e-9), key
    assert after["balance_db"] == pytest.approx(-before["balance_db"], abs=1e-9)


@pytest.mark.parametrize(("divisor", "phase_deg", "over_db"), [(4, 45.0, 3.0103), (6, 60.0, 1.2494), (8, 67.5, 0.6877)])
def test_how_far_a_tone_rises_between_its_samples(divisor, phase_deg, over_db):
    # BS.1770-5 Annex 2: 1 / cos(pi / divisor), as far as the samples miss the top
    found = measured(faded_sine(divisor, 0.5, phase_deg, 48000))
    assert found["true_peak_dbtp"] - found["sample_peak_dbfs"] == pytest.approx(over_db, abs=0.02)
