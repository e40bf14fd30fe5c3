"""What is read from 3 s windows and 50 ms cells: loud crest, worst correlation, noise floor, DC, runs of overs."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from signals import cut, noise, programme, silence, sine, steps

from sweeper.audio.format import AudioFormat
from sweeper.meter import cells, loudness, measure, overs, windows

STEREO = AudioFormat(2, 48000)


def value(samples, key, rate_hz=48000):
    return measure(samples, AudioFormat(len(samples), rate_hz))[key]


def reason(samples, key):
    return measure(samples, AudioFormat(len(samples), 48000)).reasons[key]


# Crest of the loud passages.


@pytest.mark.parametrize(("wave", "crest_db"), [(lambda x: x, 3.0103), (np.sign, 0.0)])
def test_crest_of_the_loud_passage_of_a_waveform(wave, crest_db):
    # Sine and square, from their integrals; the quiet passage's noise has another crest and is not asked
    loud = wave(sine(0.0, 6.0, hz=997.0)) * 0.5
    music = np.concatenate((noise(6.0, level_dbfs=-40.0), loud), axis=1)
    assert value(music, "crest_loud_db") == pytest.approx(crest_db, abs=0.01)
    assert value(music, "crest_db") > crest_db + 2


def test_loud_crest_is_the_median_over_windows_worked_out_one_by_one():
    music, format = programme(9.0, 11025), AudioFormat(2, 11025)
    crests = []
    edges = windows.edges(11025, 90)
    for first, last in zip(edges, edges[windows.STEPS :], strict=False):
        part = music[:, first:last]
        crests.append(20 * np.log10(np.abs(part).max() / np.sqrt(np.square(part).mean())))
    state = loudness.start(format)
    heard = windows.windows(loudness.advance(state, music)).powers
    loud = 10 * np.log10(heard / heard.max()) >= -3
    assert 1 < loud.sum() < loud.size
    assert value(music, "crest_loud_db", 11025) == pytest.approx(np.median(np.array(crests)[loud]), abs=1e-9)


# Worst correlation.


def test_the_worst_three_seconds_are_found():
    tone = sine(-10.0, 12.0)
    tone[1, 48000 * 4 : 48000 * 8] *= -1
    assert value(tone, "correlation_worst") == pytest.approx(-1.0, abs=1e-9)
    assert value(tone, "correlation") > 0.3
    tone[1, 48000 * 6 : 48000 * 8] *= -1  # two of any three seconds are opposite at most: (1 - 2) / 3
    assert value(tone, "correlation_worst") == pytest.approx(-1 / 3, abs=1e-6)


def test_quiet_passages_do_not_count_against_the_correlation():
    quiet = 10 ** (-60 / 20) * sine(-20.0, 5.0) * [[1.0], [-1.0]]
    music = np.concatenate((quiet, silence(4.0), sine(-20.0, 5.0)), axis=1)
    assert value(music, "correlation_worst") == pytest.approx(1.0, abs=1e-3)
    assert reason(quiet, "correlation_worst") == "no 3 s of it are above -70 LUFS with both channels"
    assert reason(sine(-20.0, 5.0) * [[1.0], [0.0]], "correlation_worst").startswith("no 3 s of it")


def test_one_window_is_the_whole_correlation():
    music = programme(3.0)
    assert value(music, "correlation_worst") == pytest.approx(np.sum(music[0] * music[1]) / np.sqrt(
        np.square(music[0]).sum() * np.square(music[1]).sum()), abs=1e-9)  # fmt: skip


# Noise floor.


def test_the_noise_floor_is_that_of_the_rests():
    rests = np.concatenate((silence(3.0), noise(1.0, level_dbfs=-70.0), noise(8.0, level_dbfs=-20.0)), axis=1)
    assert value(rests, "noise_floor_dbfs") == pytest.approx(-70.0, abs=0.2)


def test_a_twentieth_has_to_be_quiet():
    # 1 of 40 windows is quieter: under 5 %; 3 of 40 are not
    for quiet_s, floor_dbfs in ((0.05, -20.0), (0.15, -50.0)):
        tone = steps([(quiet_s, -50.0 + 3.0103), (2.0 - quiet_s, -20.0 + 3.0103)])
        assert value(tone, "noise_floor_dbfs") == pytest.approx(floor_dbfs, abs=0.01)


@pytest.mark.parametrize("rate_hz", [11025, 44100])
def test_the_noise_floor_is_numpys_percentile_of_windows_cut_out(rate_hz):
    music, edges = programme(5.0, rate_hz), cells.edges(rate_hz, 100)
    powers = [np.square(music[:, a:b]).mean() for a, b in pairwise(edges)]
    nearest = np.percentile(powers, 5, method="nearest")
    assert value(music, "noise_floor_dbfs", rate_hz) == pytest.approx(10 * np.log10(nearest), abs=1e-9)


# DC.


def test_dc_is_the_mean_of_the_worse_channel():
    # By definition: 20 log10(0.5) = -6.02; a sine of whole periods has none
    tone = 0.1 * sine(0.0, 1.0, hz=1000.0) + [[0.001], [-0.5]]
    assert value(tone, "dc_dbfs") == pytest.approx(-6.0206, abs=1e-4)
    assert value(np.full((1, 7), 0.5), "dc_dbfs") == pytest.approx(-6.0206, abs=1e-4)
    assert reason(silence(1.0), "dc_dbfs") == "no constant offset at all"


# Overs as runs.


def runs(samples, rate_hz=1000, full_scale=1.0, blocks=None):
    state = overs.start(AudioFormat(len(samples), rate_hz, full_scale))
    for block in blocks if blocks is not None else [samples]:
        state = overs.advance(state, block)
    found = overs.finish(state)
    return found["over_runs"].value, found["longest_over_ms"].value


def test_runs_are_counted_and_timed_in_each_channel():
    samples = np.array([[1, 1, 0, 0, -1, 1, 1, 0], [0, 0, 0, 0, 0, 0, 0, 2]])
    assert runs(samples.astype(np.float32)) == (3, 3.0)


def test_the_highest_value_of_16_bits_touches():
    highest = 32767 / 32768
    assert runs(np.array([[highest, -1.0, 0.0, 32766 / 32768]]), full_scale=highest) == (1, 2.0)


def test_nothing_touches():
    assert runs(np.full((2, 50), 0.99)) == runs(np.zeros((2, 0))) == (0, 0.0)


def test_runs_of_a_clipped_sine():
    # Two a period; each as long as a sine of 6.02 dB too much stays over 1: a third of a period of 100 frames
    clipped = np.clip(2 * np.sin(2 * np.pi * (np.arange(1000) + 0.5) / 100), -1, 1)[None]
    assert runs(clipped) == (20, pytest.approx(100 / 3, abs=1.0))


@given(st.lists(st.sampled_from([0.0, 1.0]), min_size=1, max_size=60),
       st.lists(st.integers(1, 7), min_size=1, max_size=4))  # fmt: skip
def test_runs_are_the_same_however_the_stream_is_cut(samples, sizes):
    stream = np.array([samples, samples[::-1]])
    lengths = [len(run) for text in ("".join(str(int(s)) for s in row) for row in stream)
               for run in text.split("0") if run]  # fmt: skip
    assert runs(stream, blocks=cut(stream, sizes)) == (len(lengths), float(max(lengths, default=0)))


# Cells.


@settings(max_examples=25, deadline=None)
@given(sizes=st.lists(st.integers(50, 40000), min_size=1, max_size=5), frames=st.integers(0, 90000),
       rate_hz=st.sampled_from([8000, 11025]))  # fmt: skip
def test_chunking_never_changes_a_bit(sizes, frames, rate_hz):
    music = programme(9.0, rate_hz)[:, :frames].astype(np.float32)
    format = AudioFormat(2, rate_hz)
    whole, parts = cells.advance(cells.start(format), music), cells.start(format)
    for block in cut(music, sizes):
        parts = cells.advance(parts, block)
    one, other = cells.finish(whole), cells.finish(parts)
    assert (one.frames, one.complete) == (other.frames, other.complete)
    assert one.frames == music.shape[1]
    assert np.array_equal(one.energies, other.energies)
    assert np.array_equal(one.totals, other.totals)
