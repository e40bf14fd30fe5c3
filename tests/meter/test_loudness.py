"""Loudness of awkward lengths, layouts and levels; another meter; chunking."""

import numpy as np
import pyloudnorm
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal
from signals import cut, noise, programme, silence, sine, steps, surround

from sweeper.audio.format import AudioFormat
from sweeper.meter import loudness

RATES = [44100, 48000, 88200, 96000, 176400, 192000]


def measured(samples, rate_hz=48000, blocks=None):
    state = loudness.start(AudioFormat(len(samples), rate_hz))
    for block in blocks if blocks is not None else cut(samples, [65536]):
        state = loudness.advance(state, block)
    return loudness.finish(state)


def value(samples, key="loudness_lufs", rate_hz=48000):
    return measured(samples, rate_hz)[key].value


def reason(samples, key="loudness_lufs", rate_hz=48000):
    finding = measured(samples, rate_hz)[key]
    assert finding.value is None
    return finding.reason


# Lengths. Expected values: ITU-R BS.1770-5 Annex 1 (incomplete blocks unused), worked out for a 1000 Hz tone.


@pytest.mark.parametrize("rate_hz", RATES)
def test_400_ms_is_one_block(rate_hz):
    assert value(sine(-23.0, 0.4, rate_hz), rate_hz=rate_hz) == pytest.approx(-22.994, abs=0.002)


def test_an_incomplete_block_at_the_end_is_not_used():
    # A meter that counts it reads -23.2
    tone_and_gap = np.concatenate([sine(-23.0, 0.4), silence(0.06)], axis=1)
    assert value(tone_and_gap) == value(sine(-23.0, 0.4))


def test_less_than_400_ms_has_no_loudness():
    short = sine(-23.0, 0.4)[:, :-1]
    assert reason(short) == "shorter than 400 ms"
    assert reason(short, "momentary_max_lufs") == "shorter than 400 ms"
    assert reason(short, "mono_loss_lu") == "shorter than 400 ms"


@pytest.mark.parametrize("key", ["short_term_max_lufs", "loudness_range_lu"])
def test_less_than_3_s_has_no_short_term_loudness_and_no_range(key):
    assert reason(sine(-23.0, 3.0)[:, :-1], key) == "shorter than 3 s"
    assert value(sine(-23.0, 3.0), key) is not None


def test_no_samples_have_no_loudness():
    assert {finding.reason for finding in measured(np.zeros((2, 0))).values()} == {"no samples"}


def test_momentary_windows_start_every_10_ms_at_a_rate_that_10_ms_does_not_divide():
    # 400 ms of tone 130 ms into silence: EBU Tech 3341 case 13 at a rate whose sub-blocks are 220 or 221 frames
    late = steps([(0.13, -np.inf), (0.4, -23.0), (1.0, -np.inf)], 22050)
    steady = value(sine(-23.0, 5.0, 22050), "momentary_max_lufs", 22050)
    assert value(late, "momentary_max_lufs", 22050) == pytest.approx(steady, abs=0.001)
    assert steady == pytest.approx(-22.993, abs=0.032)


@pytest.mark.parametrize("rate_hz", [8013, 11025, 22050, 44056, 44100])
def test_no_sub_block_is_lost_in_a_whole_window(rate_hz):
    # 400 ms to the nearest sample (BS.1770-5 Annex 1) is one block, one frame less is none
    frames = round(0.4 * rate_hz)
    assert value(sine(-23.0, 1.0, rate_hz)[:, :frames], rate_hz=rate_hz) is not None
    assert value(sine(-23.0, 1.0, rate_hz)[:, : frames - 1], rate_hz=rate_hz) is None


# Silence and gates.


def test_digital_silence_has_no_loudness():
    assert reason(silence(5.0)) == "nothing is louder than -70 LUFS"
    assert reason(silence(5.0), "momentary_max_lufs") == "digital silence"
    assert reason(silence(5.0), "short_term_max_lufs") == "digital silence"
    assert reason(silence(5.0), "loudness_range_lu") == "nothing is louder than -70 LUFS"


def test_under_the_gate_there_is_momentary_but_no_integrated_loudness():
    # BS.1770-5 Annex 1 eq. (4); momentary is ungated, EBU Tech 3341 section 2.2
    whisper = sine(-80.0, 5.0)
    assert reason(whisper) == "nothing is louder than -70 LUFS"
    assert value(whisper, "momentary_max_lufs") == pytest.approx(-79.993, abs=0.002)


def test_silence_afterwards_leaves_the_filter_at_rest():
    # Else it would crawl through denormals for the rest of the file
    state = loudness.start(AudioFormat(2, 8000))
    for block in (noise(2.0, 8000), silence(20.0, 8000)):
        state = loudness.advance(state, block)
    assert not state.memory.any()


@pytest.mark.parametrize("lead_s", [0.0, 0.5])
def test_what_rings_on_into_silence_is_heard(lead_s):
    # A slow ramp that drops to silence on a full second, and half way into one: nearly all energy comes after
    ramp = np.tile(np.linspace(0.0, 1.0, 48000), (2, 1))
    dropped = np.concatenate([silence(lead_s), ramp, silence(2.0)], axis=1)
    # The highest 400 ms of the filter table (BS.1770-5 Annex 1) run over this ramp by scipy.signal.sosfilt
    assert value(dropped, "momentary_max_lufs") == pytest.approx(-23.2664, abs=0.001)


def test_denormals_are_silence():
    # 1e-310 cannot be heard: no value, as for digital silence
    assert reason(np.full((2, 48000 * 4), 1e-310), "momentary_max_lufs") == "digital silence"


# Layouts. Weights: ITU-R BS.1770-5 Annex 1 Table 3.


def test_one_channel_reads_3_lu_under_two():
    assert value(sine(-23.0, 5.0, channels=1)) == pytest.approx(-26.0036, abs=0.002)


def test_the_lfe_is_left_out():
    # EBU Tech 3341 section 2.10; levels of its case 6, LFE at -10 dBFS
    without = surround([-28, -28, -24, -30, -30], 20.0)
    with_lfe = surround([-28, -28, -24, -10, -30, -30], 20.0)
    assert value(with_lfe) == pytest.approx(value(without), abs=1e-9)


def test_a_surround_channel_counts_1_49_db_more():
    # 10 log10(1.41), BS.1770-5 Annex 1 Table 3
    front = surround([-20, -np.inf, -np.inf, -np.inf, -np.inf], 5.0)
    back = surround([-np.inf, -np.inf, -np.inf, -np.inf, -20], 5.0)
    assert value(back) - value(front) == pytest.approx(1.4922, abs=0.0001)


def test_a_layout_without_weights_has_no_loudness():
    assert reason(noise(5.0, channels=4)) == "no loudness weights are defined for 4 channels"


def test_swapping_left_and_right_changes_nothing():
    assert value(programme(10.0)) == pytest.approx(value(programme(10.0)[::-1]), abs=1e-12)


# Levels.


def test_float_over_full_scale_is_not_clamped():
    assert value(sine(6.0, 5.0)) == pytest.approx(6.007, abs=0.002)


@pytest.mark.parametrize("gain_db", [-6.0, 3.0, 12.0])
@pytest.mark.parametrize("key", ["loudness_lufs", "momentary_max_lufs", "short_term_max_lufs"])
def test_a_gain_moves_loudness_by_itself(key, gain_db):
    music = programme(10.0)
    louder = music * 10.0 ** (gain_db / 20.0)
    assert value(louder, key) - value(music, key) == pytest.approx(gain_db, abs=1e-4)


@pytest.mark.parametrize("key", ["loudness_range_lu", "mono_loss_lu"])
def test_a_gain_leaves_differences_of_loudness_alone(key):
    music = programme(10.0)
    assert value(3.0 * music, key) == pytest.approx(value(music, key), abs=1e-6)


def test_the_rate_does_not_matter():
    # BS.1770-5 Annex 1: the same response at every rate
    music = programme(20.0, 44100)
    slow = signal.resample_poly(music, 1, 2, axis=1)
    assert value(signal.resample_poly(slow, 4, 1, axis=1), rate_hz=88200) == pytest.approx(
        value(signal.resample_poly(slow, 2, 1, axis=1), rate_hz=44100), abs=0.005
    )


@pytest.mark.parametrize(("rate_hz", "within_lu"), [(44100, 0.01), (48000, 0.001), (96000, 0.03)])
@pytest.mark.parametrize("seed", range(4))
def test_another_meter_agrees(rate_hz, within_lu, seed):
    # pyloudnorm with its "DeMan" filters; a length that leaves no incomplete block, which it would count. Away
    # from 48 kHz it leaves the gain of the high-pass at 1: 0.005 dB high at 44.1 kHz, 0.028 dB low at 96 kHz
    music = programme(12.0, rate_hz, seed=seed)
    other = pyloudnorm.Meter(rate_hz, filter_class="DeMan").integrated_loudness(music.T)
    assert value(music, rate_hz=rate_hz) == pytest.approx(other, abs=within_lu)


# Mono loss. Definition of ours; expected values follow from it.


def test_equal_channels_lose_nothing_in_mono():
    assert value(sine(-20.0, 5.0), "mono_loss_lu") == pytest.approx(0.0, abs=1e-9)


def test_one_silent_channel_loses_3_lu_in_mono():
    one_sided = surround([-20, -np.inf], 5.0)
    assert value(one_sided, "mono_loss_lu") == pytest.approx(3.0103, abs=1e-4)


def test_unrelated_channels_lose_3_lu_in_mono():
    assert value(noise(20.0), "mono_loss_lu") == pytest.approx(3.01, abs=0.02)


def test_mono_loss_is_that_of_the_file_summed():
    music = programme(10.0)
    summed = np.tile(music.mean(axis=0), (2, 1))
    assert value(music, "mono_loss_lu") == pytest.approx(value(music) - value(summed), abs=1e-9)


def test_opposite_channels_leave_nothing_in_mono():
    tone = sine(-20.0, 5.0, channels=1)
    assert reason(np.concatenate([tone, -tone]), "mono_loss_lu") == "nothing is left of it in mono"


def test_mono_loss_is_of_two_channels():
    assert reason(sine(-20.0, 5.0, channels=1), "mono_loss_lu") == "one channel: already mono"
    assert reason(sine(-20.0, 5.0, channels=5), "mono_loss_lu") == "measured for two channels only"


# Streaming.


@settings(max_examples=30, deadline=None)
@given(
    sizes=st.lists(st.integers(1, 20000), min_size=1, max_size=6),
    frames=st.integers(1, 40000),
    rate_hz=st.sampled_from([8000, 8013, 11025]),
    channels=st.sampled_from([1, 2, 5]),
)
def test_chunking_never_changes_a_bit(sizes, frames, rate_hz, channels):
    music = programme(6.0, rate_hz, channels)[:, :frames].astype(np.float32)
    assert measured(music, rate_hz, cut(music, sizes)) == measured(music, rate_hz, [music])


def test_one_frame_at_a_time_is_the_same():
    music = programme(3.2, 8000).astype(np.float32)
    assert measured(music, 8000, cut(music, [1])) == measured(music, 8000, [music])


def test_a_state_can_be_continued_twice():
    first, second = programme(8.0, seed=1), programme(4.0, seed=2)
    state = loudness.advance(loudness.start(AudioFormat(2, 48000)), first)
    before = loudness.finish(state)
    loudness.advance(state, second)
    assert loudness.finish(state) == before


def test_rates_under_8_khz_are_refused():
    with pytest.raises(ValueError, match="8000 Hz or more"):
        loudness.start(AudioFormat(2, 6000))
