"""True peak against brute force, other interpolators, the standard's own filter, and at the edges of a file."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from scipy import signal
from signals import cut, faded_sine, noise, programme, silence, sine

from sweeper.audio.format import AudioFormat
from sweeper.meter import true_peak

# ITU-R BS.1770-5 Annex 2: order-48 FIR, phase 0 and 1; phases 3 and 2 are these reversed.
ITU_PHASE_0 = [
    0.0017089843750, 0.0109863281250, -0.0196533203125, 0.0332031250000, -0.0594482421875, 0.1373291015625,
    0.9721679687500, -0.1022949218750, 0.0476074218750, -0.0266113281250, 0.0148925781250, -0.0083007812500,
]  # fmt: skip
ITU_PHASE_1 = [
    -0.0291748046875, 0.0292968750000, -0.0517578125000, 0.0891113281250, -0.1665039062500, 0.4650878906250,
    0.7797851562500, -0.2003173828125, 0.1015625000000, -0.0582275390625, 0.0330810546875, -0.0189208984375,
]  # fmt: skip
ITU_PHASES = np.array([ITU_PHASE_0, ITU_PHASE_1, ITU_PHASE_1[::-1], ITU_PHASE_0[::-1]])


def peak_of(samples, blocks=None):
    state = true_peak.start(AudioFormat(len(samples), 48000))
    for block in blocks if blocks is not None else [samples]:
        state = true_peak.advance(state, block)
    finding = true_peak.finish(state)["true_peak_dbtp"]
    return 0.0 if finding.value is None else 10.0 ** (finding.value / 20.0)


def db(amplitude):
    return 20.0 * np.log10(amplitude)


def kaiser_sinc(ratio, taps, beta):
    """A windowed sinc written apart from the package; each phase scaled to sum 1, (ratio, taps)."""
    rows = []
    for phase in range(ratio):
        distance = np.arange(taps) - (taps // 2 - 1) - phase / ratio
        inside = np.clip(1.0 - (distance / (taps / 2)) ** 2, 0.0, None)
        rows.append(np.sinc(distance) * np.i0(beta * np.sqrt(inside)) / np.i0(beta))
    return np.array([row / row.sum() for row in rows])


def brute_force(samples, ratio=16, taps=64, beta=9.0):
    """Every phase at every frame, silence around."""
    rows = kaiser_sinc(ratio, taps, beta)
    return max(np.abs(np.convolve(channel, row[::-1])).max() for channel in samples for row in rows)


def itu_peak(samples):
    return max(np.abs(np.convolve(channel, row)).max() for channel in samples for row in ITU_PHASES)


def band_limited_peak(samples, ratio=64):
    """By Fourier transform with silence around: exact for a band-limited signal."""
    surrounded = np.pad(samples, ((0, 0), (512, 512)))
    return np.abs(signal.resample(surrounded, surrounded.shape[1] * ratio, axis=1)).max()


# Nothing that the screening skips holds the peak.

SAMPLES = hnp.arrays(
    np.float32,
    st.tuples(st.integers(1, 2), st.integers(1, 400)),
    elements=st.floats(-2, 2, width=32, allow_subnormal=False) | st.just(0.0) | st.sampled_from([1.0, -1.0]),
)


@settings(max_examples=150, deadline=None)
@given(samples=SAMPLES)
def test_screening_loses_nothing_of_arbitrary_samples(samples):
    assert peak_of(samples) == pytest.approx(brute_force(samples.astype(np.float64)), rel=1e-12, abs=1e-28)


@pytest.mark.parametrize("seed", range(30))
def test_screening_loses_nothing_of_music(seed):
    random = np.random.default_rng(seed)
    music = programme(random.uniform(0.02, 1.0), seed=seed)
    shaped = [music, np.clip(4 * music, -0.5, 0.5), np.tanh(5 * music), np.cumsum(music, axis=1)][seed % 4]
    assert peak_of(shaped) == pytest.approx(brute_force(shaped), rel=1e-12)


@pytest.mark.parametrize("frames", [1, 2, 31, 32, 33, 63, 64, 65, 127, 128, 129, 191, 192])
def test_screening_loses_nothing_at_any_length(frames):
    samples = noise(0.01, seed=frames)[:, :frames]
    assert peak_of(samples) == pytest.approx(brute_force(samples), rel=1e-12)


@pytest.mark.parametrize("frame", [0, 1, 30, 31, 32, 62, 63, 64, 65, 95, 96, 127, 128, 299])
def test_a_pair_of_equal_samples_is_found_wherever_it_lies(frame):
    samples = np.zeros((1, 301))
    samples[0, frame : frame + 2] = 0.9
    assert peak_of(samples) == pytest.approx(brute_force(samples), rel=1e-12)
    assert peak_of(samples) > 1.1


def beside_a_decoy(samples, fraction):
    """The samples, and a channel whose one sample is a little under their peak: it must not stop the search."""
    decoy = np.zeros((1, samples.shape[1]))
    decoy[0, samples.shape[1] // 2] = fraction * brute_force(samples)
    return np.concatenate([decoy, samples])


@settings(max_examples=150, deadline=None)
@given(samples=SAMPLES, fraction=st.floats(0.9, 0.9999))
def test_a_peak_just_over_another_is_found(samples, fraction):
    both = beside_a_decoy(samples.astype(np.float64), fraction)
    assert peak_of(both) == pytest.approx(brute_force(both), rel=1e-12, abs=1e-28)


@pytest.mark.parametrize("gap", [0, 4, 8, 12, 16])
@pytest.mark.parametrize("phase", range(1, 16))
@pytest.mark.parametrize("frame", [0, 20, 64, 100])
def test_the_worst_samples_there_are_do_not_slip_through(frame, phase, gap):
    # Samples of the signs of the filter itself rise highest; with a gap in the middle, from far away only
    signs = np.sign(kaiser_sinc(16, 64, 9.0)[phase])
    signs[32 - gap : 32 + gap] = 0.0
    both = beside_a_decoy(np.pad(signs, (frame, 40))[None], 0.99)
    assert peak_of(both) == pytest.approx(brute_force(both), rel=1e-12)


@pytest.mark.parametrize("backwards", [False, True])
@pytest.mark.parametrize("flat", [63, 64, 65, 66])
def test_a_peak_made_by_the_neighbouring_stretch_is_found(flat, backwards):
    # Flat samples, then the signs of the filter's right half: the rise comes from behind the flat ones
    signs = np.sign(kaiser_sinc(16, 64, 9.0)[8])[33:]
    samples = np.concatenate([np.ones(flat), signs, np.zeros(192 - flat - signs.size)])
    both = beside_a_decoy(samples[None, ::-1] if backwards else samples[None], 0.99)
    assert peak_of(both) == pytest.approx(brute_force(both), rel=1e-12)


@pytest.mark.parametrize("backwards", [False, True])
@pytest.mark.parametrize("frames", [50, 64, 100, 128])
def test_a_rise_before_the_first_or_after_the_last_sample_is_found(frames, backwards):
    # Alternating samples that fade away rise half a sample before they start
    samples = ((-1.0) ** np.arange(frames) * 0.9 ** np.arange(frames))[None]
    samples = samples[:, ::-1] if backwards else samples
    assert peak_of(samples) == pytest.approx(brute_force(samples), rel=1e-12)
    assert peak_of(samples) > 1.0


# Other interpolators.


@pytest.mark.parametrize("seed", range(6))
def test_agrees_with_exact_interpolation_of_band_limited_noise(seed):
    # Fourier interpolation 64 times; the grid of 16 alone may read 0.034 dB low (BS.1770-5 Annex 2, table of n)
    low_pass = signal.firwin(255, 0.42, fs=1.0)
    music = signal.oaconvolve(noise(0.2, seed=seed), low_pass[None], axes=1)
    assert -0.04 < db(peak_of(music)) - db(band_limited_peak(music)) < 0.005


@pytest.mark.parametrize("seed", range(6))
def test_agrees_with_a_polyphase_resampler(seed):
    # scipy.signal.resample_poly, 64 times, a 0.4-rate low-pass before it so that its transition band is empty
    low_pass = signal.firwin(255, 0.4, fs=1.0)
    music = signal.oaconvolve(noise(0.2, seed=seed), low_pass[None], axes=1)
    other = np.abs(signal.resample_poly(music, 64, 1, axis=1, window=("kaiser", 8.0))).max()
    assert db(peak_of(music)) == pytest.approx(db(other), abs=0.05)


@pytest.mark.parametrize(
    ("divisor", "phase_deg", "over_db"), [(4, 45.0, 3.0103), (6, 60.0, 1.2494), (8, 67.5, 0.6877)]
)
def test_rise_over_the_samples(divisor, phase_deg, over_db):
    # BS.1770-5 Annex 2 ("3 dB under-read" of a quarter-rate sine); the others follow from the sine
    tone = faded_sine(divisor, 0.5, phase_deg, 48000)
    assert db(peak_of(tone)) - db(np.abs(tone).max()) == pytest.approx(over_db, abs=0.035)


@pytest.mark.parametrize("cycles", np.linspace(0.003, 0.4535, 12).tolist())
def test_steady_sines_read_their_amplitude(cycles):
    # A grid of 16 reads at most 20 log10 cos(pi f / 16) low (BS.1770-5 Annex 2); EBU Tech 3341 section 2.6 allows 0.4
    time = np.arange(8000) + 0.37
    fade = signal.windows.tukey(8000, 0.5)
    assert -0.035 < db(peak_of((fade * np.sin(2 * np.pi * cycles * time))[None])) < 0.001


@pytest.mark.parametrize(("divisor", "phase_deg"), [(4, 45.0), (6, 60.0), (8, 67.5), (5, 0.0), (37, 0.0)])
def test_the_standards_example_filter_agrees_within_its_own_error(divisor, phase_deg):
    # BS.1770-5 Annex 2, order-48 FIR: steady sines from 0.292 dB under to 0.222 dB over
    tone = faded_sine(divisor, 0.5, phase_deg, 48000)
    example = max(itu_peak(tone), np.abs(tone).max())
    assert -0.25 < db(peak_of(tone)) - db(example) < 0.3


@pytest.mark.parametrize("seed", range(4))
def test_the_standards_example_filter_agrees_on_music(seed):
    # Same filter and error, on low-passed noise
    music = programme(1.0, seed=seed)
    example = max(itu_peak(music), np.abs(music).max())
    assert -0.25 < db(peak_of(music)) - db(example) < 0.4


# The edges of a file.


def test_a_peak_in_the_last_samples_is_found():
    # At least the exact interpolation of it; a meter that never flushes its interpolator reads silence
    ending = silence(1.0, channels=1)
    ending[0, -3:] = 0.5, 0.9, 0.9
    assert db(peak_of(ending)) >= -0.915
    assert peak_of(ending) == pytest.approx(brute_force(ending), rel=1e-12)


def test_a_peak_in_the_first_samples_is_found():
    beginning = silence(1.0, channels=1)
    beginning[0, :3] = 0.9, 0.9, 0.5
    assert db(peak_of(beginning)) >= -0.915


def test_backwards_is_the_same():
    music = programme(1.0)
    assert peak_of(music[:, ::-1]) == pytest.approx(peak_of(music), rel=1e-12)


def test_a_gain_moves_the_peak_by_itself():
    music = programme(1.0)
    assert db(peak_of(4.0 * music)) - db(peak_of(music)) == pytest.approx(12.0412, abs=1e-4)


def test_over_full_scale_is_not_clamped():
    assert db(peak_of(sine(6.0, 1.0))) == pytest.approx(6.0, abs=0.005)


def test_never_under_the_sample_peak():
    # A single sample is its own highest point
    single = np.zeros((1, 500))
    single[0, 250] = 0.7
    assert peak_of(single) == pytest.approx(0.7, rel=1e-15)


def test_silence_and_nothing_have_no_true_peak():
    quiet = true_peak.advance(true_peak.start(AudioFormat(2, 48000)), silence(1.0))
    assert true_peak.finish(quiet)["true_peak_dbtp"].reason == "digital silence"
    assert true_peak.finish(true_peak.start(AudioFormat(2, 48000)))["true_peak_dbtp"].reason == "no samples"


# Streaming.


@settings(max_examples=60, deadline=None)
@given(
    sizes=st.lists(st.integers(1, 1500), min_size=1, max_size=6),
    seed=st.integers(0, 1000),
    double=st.booleans(),
    shape=st.sampled_from(["music", "tone", "clipped"]),
)
def test_chunking_never_changes_a_bit(sizes, seed, double, shape):
    music = {"music": programme(0.1, seed=seed), "tone": sine(-1.0, 0.1, hz=500 + seed),
             "clipped": np.clip(9 * programme(0.1, seed=seed), -1, 1)}[shape]  # fmt: skip
    music = music.astype(np.float64 if double else np.float32)
    assert peak_of(music, cut(music, sizes)) == peak_of(music)


def test_one_frame_at_a_time_is_the_same():
    music = programme(0.05).astype(np.float32)
    assert peak_of(music, cut(music, [1])) == peak_of(music)


def test_the_highest_float_does_not_break_the_search():
    highest = np.zeros((1, 300), np.float32)
    highest[0, 100:110] = np.finfo(np.float32).max * np.float32(0.9)
    with np.errstate(over="ignore", invalid="ignore"):
        assert peak_of(highest) == pytest.approx(brute_force(highest.astype(np.float64)), rel=1e-9)
