"""Loudness over time and its histogram: against pyloudnorm's blocks, the panel, and EBU Tech 3341."""

import numpy as np
import pyloudnorm
import pytest
from signals import cut, programme, silence, sine, steps

from sweeper import meter
from sweeper.audio.format import AudioFormat
from sweeper.meter import curves, envelope
from sweeper.meter.gating import OFFSET_LUFS, integrated


def measured(samples, rate_hz=48000, sizes=(65536,)):
    format = AudioFormat(len(samples), rate_hz)
    panel, outline = meter.start(format), envelope.start(format, samples.shape[1], 200)
    for block in cut(samples, sizes):
        panel, outline = meter.advance(panel, block), envelope.advance(outline, block)
    return curves.finish(outline, panel.whole.loudness, panel.whole.thirds)


def levels_lufs(powers):
    return curves.levels(powers, OFFSET_LUFS)


def test_every_100_ms_is_the_loudness_of_the_400_ms_and_the_3_s_from_there():
    # EBU Tech 3341: a steady tone in both channels reads its peak level in dBFS
    found = measured(steps([(4.0, -20.0), (4.0, -30.0)]))
    momentary, short_term = levels_lufs(found.momentary_powers), levels_lufs(found.short_term_powers)
    assert (momentary.size, short_term.size) == (77, 51)
    assert momentary[5:36] == pytest.approx(np.full(31, -20.0), abs=0.05)
    assert momentary[41:] == pytest.approx(np.full(36, -30.0), abs=0.05)
    assert short_term[[5, 10, 45]] == pytest.approx([-20.0, -20.0, -30.0], abs=0.05)
    # a quarter of the window at -20 dBFS, three quarters at -30
    assert momentary[39] == pytest.approx(10 * np.log10(0.25 * 0.01 + 0.75 * 0.001), abs=0.05)


def test_the_blocks_are_those_of_another_meter():
    music = programme(8.0)
    meter_of_others = pyloudnorm.Meter(48000, filter_class="DeMan")
    meter_of_others.integrated_loudness(music.T.copy())
    theirs = np.array(meter_of_others.blockwise_loudness)
    ours = levels_lufs(measured(music).momentary_powers)
    assert ours == pytest.approx(theirs[: ours.size], abs=0.05)


def test_the_curves_hold_what_the_panel_reports():
    music = programme(8.0)
    found, panel = measured(music), meter.measure(music, AudioFormat(2, 48000))
    assert integrated(found.momentary_powers).value == panel["loudness_lufs"]
    # the panel looks every 10 ms, the curve every 100 ms
    curves_of = {"momentary_max_lufs": found.momentary_powers, "short_term_max_lufs": found.short_term_powers}
    for key, powers in curves_of.items():
        assert panel[key] - 0.5 < levels_lufs(powers).max() <= panel[key]
    assert 20 * np.log10(max(found.envelope.highs.max(), -found.envelope.lows.min())) == pytest.approx(
        panel["sample_peak_dbfs"], abs=1e-6)  # fmt: skip


def test_the_histogram_counts_every_block_above_the_gate_in_its_lu():
    music = np.concatenate([sine(-20.5, 2.0), silence(2.0), sine(-30.5, 1.0)], axis=1)
    found = measured(music)
    shown = found.histogram
    assert shown.counts.sum() == (found.momentary_powers > 10 ** ((-70 - OFFSET_LUFS) / 10)).sum()
    assert shown.counts[-21 - shown.lowest_lufs] == 17  # the blocks that lie in the first tone as a whole
    assert shown.counts[-31 - shown.lowest_lufs] >= 7
    assert (shown.counts[0] > 0, shown.counts[-1] > 0, len(shown.counts)) == (True, True, -20 - shown.lowest_lufs)


def test_silence_and_what_is_too_short_have_no_histogram_and_the_least_level():
    quiet = measured(silence(4.0))
    assert quiet.histogram.counts.size == 0
    assert levels_lufs(quiet.momentary_powers) == pytest.approx(np.full(37, -200.0))
    short = measured(sine(-20.0, 0.39))
    assert (short.momentary_powers.size, short.short_term_powers.size, short.histogram.counts.size) == (0, 0, 0)
    assert measured(np.zeros((4, 48000))).momentary_powers.size == 0, "no weights for four channels"


@pytest.mark.parametrize("sizes", [(1000,), (1, 4799, 70001)])
def test_chunking_never_changes_a_bit(sizes):
    music = programme(3.6, 44100).astype(np.float32)
    one, other = measured(music, 44100), measured(music, 44100, sizes)
    for name in ("momentary_powers", "short_term_powers", "band_powers"):
        assert (getattr(one, name) == getattr(other, name)).all()
    assert (one.envelope.lows == other.envelope.lows).all()
    assert (one.histogram.counts == other.histogram.counts).all()
