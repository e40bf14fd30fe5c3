"""All meters in one pass: keys, sections, chunking, refusals, memory."""

import dataclasses
import math
import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from signals import cut, noise, programme, silence, sine

from sweeper import meter
from sweeper.audio.format import AudioFormat
from sweeper.meter import advance, finish, measure, start
from sweeper.quantities import OF_FILES

STEREO = AudioFormat(2, 48000)
BUILT = [quantity.key for quantity in OF_FILES]


def streamed(samples, format, sizes, sections=None):
    panel = start(format, sections or {})
    for block in cut(samples, sizes):
        panel = advance(panel, block)
    return finish(panel)


def test_the_room_offers_four_functions():
    assert sorted(meter.__all__) == ["advance", "finish", "measure", "start"]


def test_music_has_every_quantity_that_is_built():
    measurements = measure(programme(61.0), STEREO)
    assert list(measurements.values) == BUILT
    assert None not in measurements.values.values()
    assert measurements.reasons == {}


@pytest.mark.parametrize(
    "samples",
    [np.zeros((2, 0)), np.zeros((2, 1)), np.ones((2, 1)), silence(5.0), np.ones((1, 48000)), noise(1.0, channels=4),
     np.full((2, 48000), 1e-310), np.full((2, 200000), 1e200), np.full((2, 200000), 3e38, np.float32),
     noise(1.0, channels=6), np.stack([np.zeros(50000), np.ones(50000)])],
    ids=["empty", "one zero", "one sample", "silence", "mono", "quad", "denormals", "enormous", "highest float", "5.1",
         "dead channel"],
)  # fmt: skip
def test_a_value_is_a_finite_number_or_has_a_reason(samples):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        measurements = measure(samples, AudioFormat(len(samples), 48000))
    assert list(measurements.values) == BUILT
    for key, value in measurements.values.items():
        assert measurements.reasons.get(key) if value is None else math.isfinite(value), key


def test_one_sample_has_a_peak():
    measurements = measure(np.full((2, 1), 0.5), STEREO)
    assert measurements["sample_peak_dbfs"] == pytest.approx(-6.0206, abs=1e-4)
    assert measurements["true_peak_dbtp"] == pytest.approx(-6.0206, abs=1e-4)
    assert measurements.reasons["loudness_lufs"] == "shorter than 400 ms"
    assert measurements.reasons["plr_db"] == "no integrated loudness: shorter than 400 ms"


def test_less_than_a_minute_has_a_range_and_a_remark():
    # EBU Tech 3341 section 2.4
    measurements = measure(programme(10.0), STEREO)
    assert measurements["loudness_range_lu"] is not None
    assert measurements.reasons == {"loudness_range_lu": "shorter than 60 s: not yet stable (EBU Tech 3341 2.4)"}


# PLR: EBU Tech 3343 (peak level minus loudness level); a 997 Hz sine is the reference of BS.1770.


def test_plr_of_a_full_scale_sine():
    tone = sine(0.0, 5.0, hz=997.0)
    assert measure(tone, STEREO)["plr_db"] == pytest.approx(0.0, abs=0.005)
    tone[1] = 0.0
    assert measure(tone, STEREO)["plr_db"] == pytest.approx(3.0103, abs=0.005)


@pytest.mark.parametrize("gain_db", [-20.0, 9.0])
def test_a_gain_moves_levels_and_nothing_else(gain_db):
    music = programme(10.0)
    before, after = (measure(x, STEREO).values for x in (music, music * 10 ** (gain_db / 20)))
    units = {quantity.key: quantity.unit for quantity in OF_FILES}
    for key in set(BUILT) - {"overs", "over_runs", "longest_over_ms"}:
        moved = gain_db if units[key] in ("LUFS", "dBTP", "dBFS") else 0.0
        assert after[key] - before[key] == pytest.approx(moved, abs=1e-4), key


# Sections.


def test_a_section_is_measured_as_if_it_were_a_file():
    music = programme(20.0).astype(np.float32)
    sections = {"verse": [(1000, 300_001)], "choruses": [(300_001, 400_000), (700_123, 900_000)]}
    measurements = streamed(music, STEREO, [30_011], sections)
    assert list(measurements.sections) == ["verse", "choruses"]
    for name, ranges in sections.items():
        alone = measure(np.concatenate([music[:, a:b] for a, b in ranges], axis=1), STEREO)
        assert measurements.sections[name] == alone
    assert dataclasses.replace(measurements, sections={}) == measure(music, STEREO)


def test_ranges_are_taken_in_order_of_time_and_overlaps_count_once():
    music = programme(2.0)
    mixed = measure(music, STEREO, {"part": [(50_000, 60_000), (1000, 30_000), (20_000, 40_000)]})
    tidy = measure(music, STEREO, {"part": [(1000, 40_000), (50_000, 60_000)]})
    assert mixed.sections == tidy.sections


def test_a_section_past_the_end_stops_at_the_end():
    music = programme(1.0)
    parts = measure(music, STEREO, {"late": [(40_000, 90_000)], "too late": [(48_000, 90_000)], "none": []}).sections
    assert parts["late"] == measure(music[:, 40_000:], STEREO)
    assert parts["too late"] == parts["none"] == measure(music[:, :0], STEREO)


@pytest.mark.parametrize("bounds", [(-1, 5), (7, 6)])
def test_impossible_ranges_are_refused(bounds):
    with pytest.raises(ValueError, match="section 'verse': no frames from"):
        start(STEREO, {"verse": [bounds]})


# Streaming.


@settings(max_examples=15, deadline=None)
@given(
    sizes=st.lists(st.integers(100, 40_000), min_size=1, max_size=5),
    frames=st.integers(1, 90_000),
    channels=st.sampled_from([1, 2, 6]),
    bounds=st.tuples(st.integers(0, 50_000), st.integers(0, 50_000)).map(sorted),
)
def test_chunking_never_changes_a_bit(sizes, frames, channels, bounds):
    format = AudioFormat(channels, 8000)
    music = programme(11.3, 8000, channels)[:, :frames].astype(np.float32)
    sections = {"part": [tuple(bounds)]}
    assert streamed(music, format, sizes, sections) == measure(music, format, sections)


def test_one_frame_at_a_time_is_the_same():
    music = programme(3.3, 8000).astype(np.float32)
    assert streamed(music, AudioFormat(2, 8000), [1]) == measure(music, AudioFormat(2, 8000))


def test_the_layout_in_memory_does_not_matter():
    music = programme(5.0)
    assert measure(np.asfortranarray(music), STEREO) == measure(music, STEREO)


def test_a_buffer_used_again_does_not_reach_back():
    music = programme(3.5)
    panel, buffer = start(STEREO), np.empty((2, 1000))
    for block in cut(music, [1000]):
        buffer[:] = block
        panel = advance(panel, buffer)
    assert finish(panel) == measure(music, STEREO)


def test_a_panel_can_be_read_and_continued_any_number_of_times():
    music = programme(8.0)
    panel = advance(start(STEREO), music[:, :200_000])
    early = finish(panel)
    assert finish(advance(panel, music[:, 200_000:])) == measure(music, STEREO)
    assert finish(panel) == early == measure(music[:, :200_000], STEREO)


def test_a_block_is_not_changed():
    music = programme(2.0)
    music.setflags(write=False)
    measure(music, STEREO)


# Refusals.


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_a_sample_that_is_no_number_is_refused(bad):
    music = programme(2.0).astype(np.float32)
    music[1, 70_000] = bad
    with pytest.raises(ValueError, match=r"frame 70000 of channel 1 is -?(nan|inf), not a sample"):
        measure(music, STEREO)


@pytest.mark.parametrize(
    "block", [np.zeros(100), np.zeros((1, 100)), np.zeros((100, 2)), np.zeros((2, 100), np.int16)]
)
def test_anything_but_channels_by_frames_of_floats_is_refused(block):
    with pytest.raises(ValueError, match=r"want \(2, frames\) of float32 or float64"):
        advance(start(STEREO), block)


def test_a_stream_has_a_channel():
    with pytest.raises(ValueError, match="at least one channel"):
        start(AudioFormat(0, 48000))


# Memory.


def held_bytes(state):
    """What the arrays in a state keep alive, those that they are views of included."""
    if isinstance(state, np.ndarray):
        return state.nbytes if state.base is None else max(state.nbytes, held_bytes(state.base))
    if isinstance(state, tuple):
        return sum(held_bytes(part) for part in state)
    if dataclasses.is_dataclass(state):
        return sum(held_bytes(getattr(state, field.name)) for field in dataclasses.fields(state))
    return 0


def test_a_long_stream_keeps_nothing_but_energies():
    # Of 8 bytes each, a second: two channels and their product 100 times, two channels, mid and side, and two sums
    # 20 times, a peak 10 times; and less than half a megabyte beside
    panel, block = start(AudioFormat(2, 8000)), noise(10.0, 8000).astype(np.float32)
    for _ in range(60):
        panel = advance(panel, block)
    assert held_bytes(panel) < 600 * (100 * 3 + 20 * 6 + 10) * 8 + 500_000
