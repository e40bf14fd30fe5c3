"""Real plugins on real music. Plugins: Debian's zam-plugins. Music: Debian's drascula-music and singularity-music.

Outside meters: ffmpeg's ebur128 filter (an implementation of EBU R 128) and pyloudnorm.
"""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile
from whole_runs import chain_file, outside_lufs, samples, sweeper

#: Track -> (loudness LUFS, momentary max, short-term max, range LU, true peak dBTP, crest dB, correlation).
#: Read by two or more independent meters, which agreed within 0.01 LU and 0.02 dB.
READINGS = {
    "track27": (-24.38, -18.88, -22.52, 2.53, -6.97, 19.58, 0.680),
    "track5": (-20.24, -15.11, -17.52, 3.24, -0.09, 21.70, 0.901),
    "Deprecation": (-16.56, -12.30, -14.57, 2.43, -0.57, 13.93, 0.120),
    "Enemy Unknown": (-18.03, -10.89, -15.23, 4.74, 0.45, 7.43, 0.964),
    "Advanced Simulacra": (-15.97, -9.57, -11.01, 14.17, -0.51, 16.49, 0.840),
}
KEYS = ("loudness_lufs", "momentary_max_lufs", "short_term_max_lufs", "loudness_range_lu", "true_peak_dbtp",
        "crest_db", "correlation")  # fmt: skip


def ffmpeg_readings(path: Path) -> tuple[float, float]:
    """Integrated loudness and true peak, to ffmpeg's one decimal."""
    options = ["-af", "ebur128=peak=true", "-f", "null", "-"]
    command = ["ffmpeg", "-hide_banner", "-nostats", "-i", f"file:{path}", *options]
    said = subprocess.run(command, capture_output=True, text=True, check=True).stderr.rsplit("Summary:", 1)[1]
    loudness = re.search(r"I:\s+(-?[\d.]+) LUFS", said)
    peak = re.search(r"Peak:\s+(-?[\d.]+) dBFS", said)
    assert loudness and peak
    return float(loudness[1]), float(peak[1])


@pytest.mark.parametrize("track", READINGS)
@pytest.mark.long
def test_real_tracks_read_as_other_meters_read_them(music, track, tmp_path):
    ran = sweeper("measure", music[track], "--json", cwd=tmp_path)
    measured = ran.data["files"][0]["measurements"]
    for key, expected in zip(KEYS, READINGS[track], strict=True):
        assert measured[key] == pytest.approx(expected, abs=0.05), key
    loudness, peak = ffmpeg_readings(music[track])
    assert measured["loudness_lufs"] == pytest.approx(loudness, abs=0.1)
    assert measured["true_peak_dbtp"] == pytest.approx(peak, abs=0.2), "ffmpeg oversamples less finely"
    assert measured["loudness_lufs"] == pytest.approx(outside_lufs(music[track]), abs=0.05)


CHAIN = """
title: real chain
mix: {mix}
inserts:
  - {{name: eq, plugin: ZamEQ2, channels: left/right, settings: {{Boost/Cut 1: -2 dB, Frequency 1: 300 Hz}}}}
  - {{name: glue, plugin: ZamCompX2, settings: {{Threshold: -24 dB, Ratio: 2}}}}
  - {{name: tube, plugin: ZamTube, channels: mid, settings: {{Tube Drive: 0.5}}, output trim: -3 dB}}
output:
  - {{name: limiter, plugin: ZaMaximX2, settings: {{Output Ceiling: -1 dB}}, drive: lower Threshold}}
vary: {{limiter.Release: [10 ms, 60 ms]}}
reach: [{{loudness: -14 LUFS, within: 0.1 LU, by: limiter.drive}}]
"""


def test_a_chain_of_real_plugins_is_on_target_aligned_and_matched(music, tmp_path):
    data, rate_hz = soundfile.read(music["track27"], stop=20 * 44100, always_2d=True)
    soundfile.write(tmp_path / "mix.wav", data, rate_hz, subtype="PCM_24")
    ran = sweeper("run", chain_file(tmp_path, CHAIN.format(mix="mix.wav")), "--json", cwd=tmp_path)
    assert ran.code == 0, ran.err
    matched = []
    for variant in ran.data["variants"]:
        render = tmp_path / ran.data["run"] / variant["files"]["render"]
        assert outside_lufs(render) == pytest.approx(-14, abs=0.11)
        assert ffmpeg_readings(render)[0] == pytest.approx(-14, abs=0.15)
        assert lag(samples(render), data.T.astype(np.float32)) == 0, "aligned to the mix to the sample"
        assert samples(render).shape == data.T.shape
        matched.append(outside_lufs(tmp_path / ran.data["run"] / variant["files"]["matched"]))
    assert max(matched) - min(matched) < 0.05


def lag(render: np.ndarray, mix: np.ndarray) -> int:
    """By how many frames a render is late against the mix, left channel.

    Cross-correlation with phase transform (Knapp and Carter, "The generalized correlation method for estimation of
    time delay", IEEE Trans. ASSP 24, 1976; from memory): plain correlation follows the phase of a tone control.
    """
    size = 1 << 20
    cross = np.fft.rfft(render[0, :400_000], size) * np.conj(np.fft.rfft(mix[0, :400_000], size))
    peak = int(np.abs(np.fft.irfft(cross / (np.abs(cross) + 1e-9), size)).argmax())
    return peak if peak < size // 2 else peak - size


def test_the_lag_is_seen_where_there_is_one():
    noise = np.random.default_rng(0).uniform(-1, 1, (1, 400_000))
    assert lag(np.roll(noise, 3, axis=1), noise) == 3
    assert lag(np.roll(noise, -7, axis=1), noise) == -7
