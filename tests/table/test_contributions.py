"""Changes at equal loudness: levels less the gain, what a gain leaves alone as it is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest
from signals import programme

from sweeper import meter
from sweeper.audio import AudioFormat
from sweeper.quantities import OF_FILES, Measurements
from sweeper.table.contributions import AT_FULL_SCALE, COMPARED, change

QUIET = Measurements({"loudness_lufs": -20.0, "true_peak_dbtp": -4.0, "rms_dbfs": -18.0, "crest_db": 13.0,
                      "plr_db": 16.0, "correlation": 0.5, "overs": 0, "noise_floor_dbfs": None})  # fmt: skip
#: Six dB up, then one dB off its peaks, which costs a tenth of a dB of loudness and RMS.
CLIPPED = Measurements({"loudness_lufs": -14.1, "true_peak_dbtp": 1.0, "rms_dbfs": -12.1, "crest_db": 12.1,
                        "plr_db": 15.1, "correlation": 0.52, "overs": 7, "noise_floor_dbfs": -60.0})  # fmt: skip


def rounded(values: Mapping[str, float | None]) -> dict[str, float]:
    return {key: round(value, 9) + 0.0 for key, value in values.items() if value is not None}


def test_a_worked_example():
    """5.9 LU louder. The peak rose by 5.0 dB: at equal loudness it is 0.9 dB lower, as crest and PLR say too."""
    found = change(QUIET, CLIPPED)
    assert found.gain_db == pytest.approx(5.9)
    assert rounded(found.values) == {"loudness_lufs": 0.0, "true_peak_dbtp": -0.9, "rms_dbfs": 0.0, "crest_db": -0.9,
                                     "plr_db": -0.9, "correlation": 0.02}  # fmt: skip
    assert "overs" not in found.values, "where full scale is, no gain makes comparable"


def test_there_and_back_are_opposite():
    there, back = change(QUIET, CLIPPED), change(CLIPPED, QUIET)
    assert rounded(there.values) == {key: -value + 0.0 for key, value in rounded(back.values).items()}


def test_over_sections_the_levels_are_matched_there():
    louder_there = (replace(one, sections={"end": Measurements({"loudness_lufs": at})})
                    for one, at in ((QUIET, -18.0), (CLIPPED, -13.0)))  # fmt: skip
    found = change(*louder_there, ("end",))
    assert found.gain_db == 5.0
    assert rounded(found.values)["loudness_lufs"] == 0.9


def test_silence_has_no_gain_and_so_no_levels_to_compare():
    silent = Measurements({"loudness_lufs": None, "correlation": 0.1})
    found = change(QUIET, silent)
    assert found.gain_db is None
    assert rounded(found.values) == {"correlation": -0.4}


def test_a_gain_alone_changes_nothing_whatever_is_measured():
    """Every measurement there is, of music-like noise and the same 4.5 dB quieter, by the meters themselves."""
    found = change(*(measured(programme(4.0) * 10 ** (gain_db / 20)) for gain_db in (0.0, -4.5)))
    assert found.gain_db == pytest.approx(-4.5, abs=0.01)
    assert {q.key for q in OF_FILES} - AT_FULL_SCALE == {q.key for q in COMPARED} == found.values.keys()
    assert sum(value is not None for value in found.values.values()) > 15
    for key, value in found.values.items():
        assert value is None or abs(value) < 0.01, key
    assert max(abs(value) for value in found.thirds_db if value is not None) < 0.021


def measured(samples: np.ndarray) -> Measurements:
    panel = meter.start(AudioFormat(2, 48000), {})
    return meter.finish(meter.advance(panel, samples.astype(np.float32)))
