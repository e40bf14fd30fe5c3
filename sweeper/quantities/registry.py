"""The list of quantities. A key carries its unit; a name is what an engineer writes in a chain file."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Quantity:
    """One thing that can be measured of a file.

    key: in tables, JSON and code. name: in chain files and headings. unit: "" for a pure number.
    decimals: how many are worth showing. built: False while a later release measures it.
    difference_unit: the unit of a tolerance on it.
    """

    key: str
    name: str
    unit: str
    decimals: int
    difference_unit: str
    meaning: str
    built: bool = True


def _known(key: str, name: str, unit: str, decimals: int, difference: str, meaning: str) -> Quantity:
    return Quantity(key, name, unit, decimals, difference, meaning)


def _later(key: str, name: str, unit: str, difference: str, meaning: str) -> Quantity:
    return Quantity(key, name, unit, 1, difference, meaning, built=False)


QUANTITIES: tuple[Quantity, ...] = (
    _known("loudness_lufs", "loudness", "LUFS", 2, "LU", "integrated loudness"),
    _known("momentary_max_lufs", "momentary max", "LUFS", 1, "LU", "loudest 400 ms"),
    _known("short_term_max_lufs", "short-term max", "LUFS", 1, "LU", "loudest 3 s"),
    _known("loudness_range_lu", "loudness range", "LU", 1, "LU", "spread of the short-term loudness"),
    _known("true_peak_dbtp", "true peak", "dBTP", 2, "dB", "highest level between and on the samples"),
    _known("sample_peak_dbfs", "sample peak", "dBFS", 2, "dB", "highest sample"),
    _known("overs", "overs", "", 0, "", "samples at or above full scale"),
    _known("crest_db", "crest", "dB", 2, "dB", "sample peak over RMS, whole file"),
    _known("rms_dbfs", "rms", "dBFS", 2, "dB", "RMS; a full-scale square wave is 0"),
    _known("plr_db", "plr", "dB", 2, "dB", "true peak minus integrated loudness"),
    _known("correlation", "correlation", "", 2, "", "left against right, +1 mono, -1 opposite"),
    _known("side_mid_db", "side/mid", "dB", 1, "dB", "level of the side over the mid"),
    _known("balance_db", "balance", "dB", 2, "dB", "right over left, RMS; + leans right"),
    _known("mono_loss_lu", "mono loss", "LU", 2, "LU", "loudness lost when summed to mono"),
    _later("psr_db", "psr", "dB", "dB", "true peak minus short-term loudness, smallest"),
    _later("crest_loud_db", "crest.loud", "dB", "dB", "crest of the loud passages"),
    _later("dc_dbfs", "dc", "dBFS", "dB", "constant offset"),
    _later("tilt_db", "tilt", "dB", "dB", "slope of the third-octave spectrum"),
    _later("attenuation_db", "attenuation", "dB", "dB", "gain reduction of a stage"),
    _later("residue_db", "residue", "dB", "dB", "what neither gain nor filter explains"),
    _later("distortion_pct", "distortion", "%", "%", "harmonics of a tone at programme level"),
)  # fmt: skip
BY_KEY = {quantity.key: quantity for quantity in QUANTITIES}
BY_NAME = {quantity.name: quantity for quantity in QUANTITIES}
