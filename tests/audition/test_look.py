"""What the page shows of a sound, held against definitions and the whole-file meters."""

from __future__ import annotations

import numpy as np
import pytest
import signals
import soundfile

from sweeper import meter
from sweeper.audio import AudioFormat
from sweeper.audition.look import Look, LookOrder, look_at, loudness_of, powers
from sweeper.meter import loudness
from sweeper.meter.gating import OFFSET_LUFS
from sweeper.workers.report import Report


def powers_of(sound: np.ndarray, rate_hz: int):
    return powers(loudness.advance(loudness.start(AudioFormat(len(sound), rate_hz)), sound.astype(np.float32)))


@pytest.mark.parametrize("rate_hz", [44100, 48000, 96000])
def test_tenths_of_a_second_make_the_integrated_loudness(rate_hz):
    sound = signals.programme(6.3, rate_hz)
    whole = meter.measure(sound.astype(np.float32), AudioFormat(2, rate_hz))["loudness_lufs"]
    assert loudness_of(powers_of(sound, rate_hz).tolist()) == pytest.approx(whole, abs=1e-4)


def test_a_tone_reads_what_the_standard_says():
    # BS.1770-5 Annex 1: 0 dBFS at 997 Hz in one channel reads -3.01 LKFS; in both 0.0
    tone = signals.sine(0.0, 2.0, 48000, 997.0)
    for power in powers_of(tone, 48000)[2:-1]:
        assert 10 * np.log10(power) + OFFSET_LUFS == pytest.approx(0.0, abs=0.02)


def test_a_stretch_is_made_of_the_blocks_that_lie_in_it_whole():
    loud_then_soft = [1.0] * 20 + [0.01] * 20
    assert loudness_of(loud_then_soft, [(2.0, 4.0)]) == pytest.approx(10 * np.log10(0.01) + OFFSET_LUFS)
    assert loudness_of(loud_then_soft, [(0.0, 2.0)]) == pytest.approx(OFFSET_LUFS)
    assert loudness_of(loud_then_soft, [(0.0, 0.3)]) is None, "no block of 400 ms"
    assert loudness_of([0.0] * 40) is None, "silence"
    assert loudness_of([1.0] * 3) is None


def test_a_look_shows_overs_waveform_and_spectrum_where_they_are(ready):
    look = next(one.look for one in ready.sounds if one.found.id == "003")
    assert len(look.low) == len(look.high) == 1200
    peak = max(max(look.high), -min(look.low))
    assert peak == pytest.approx(10 ** (look.measured["sample_peak_dbfs"] / 20), rel=1e-3)
    assert len(look.band_powers) == 31
    assert len(look.short_term_lufs) == 4, "3 s that begin at 0, 0.5, 1 and 1.5 s of 4.5 s"
    assert Look.from_data(look.as_data()) == look


def test_overs_are_told_where_they_are(tmp_path):
    sound = 0.1 * np.ones((2, 48000), np.float32)
    sound[1, 12000:12003] = 1.0
    soundfile.write(tmp_path / "over.wav", sound.T, 48000, subtype="FLOAT")
    found = look_at(LookOrder(tmp_path / "over.wav"), Report(lambda message: None))
    assert found.overs_s == (pytest.approx(0.25, abs=1 / 1200),)
    assert (tmp_path / "over.wav").read_bytes()[found.data_offset :][:4] == np.float32(0.1).tobytes()


def test_a_look_of_another_version_is_not_read(ready):
    with pytest.raises(ValueError, match="version"):
        Look.from_data({**ready.sounds[0].look.as_data(), "version": 0})
