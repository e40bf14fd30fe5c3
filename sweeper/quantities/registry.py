"""The list of quantities. A key carries its unit; a name is what an engineer writes in a chain file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache


@dataclass(frozen=True)
class Quantity:
    """One thing that can be measured of a file.

    key: in tables, JSON and code. name: in chain files and headings. unit: "" for a pure number.
    decimals: how many are worth showing.
    difference_unit: the unit of a tolerance on it. inside: of what a stage, or the whole chain, does to the music;
    not to be told from a file alone.
    """

    key: str
    name: str
    unit: str
    decimals: int
    difference_unit: str
    meaning: str
    inside: bool = False


def _known(key: str, name: str, unit: str, decimals: int, difference: str, meaning: str) -> Quantity:
    return Quantity(key, name, unit, decimals, difference, meaning)


def _inside(key: str, name: str, unit: str, decimals: int, meaning: str) -> Quantity:
    return Quantity(key, name, unit, decimals, unit, meaning, inside=True)


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
    _known("psr_db", "psr", "dB", 2, "dB", "true peak minus short-term loudness, the smallest"),
    _known("crest_loud_db", "crest.loud", "dB", 2, "dB", "crest of the loud passages"),
    _known("over_runs", "over runs", "", 0, "", "how many times a channel touches full scale"),
    _known("longest_over_ms", "longest over", "ms", 2, "ms", "longest time at full scale"),
    _known("dc_dbfs", "dc", "dBFS", 1, "dB", "constant offset, of the worse channel"),
    _known("correlation_worst", "correlation.worst", "", 2, "", "lowest correlation of any 3 s"),
    _known("tilt_db", "tilt", "dB", 2, "dB", "slope of the third-octave spectrum, per band; pink noise is 0"),
    _known("noise_floor_dbfs", "noise floor", "dBFS", 1, "dB", "level that the quietest twentieth stays under"),
    _inside("attenuation_db", "attenuation", "dB", 2, "gain reduction that 5 % of the loudest 30 s exceed"),
    _inside("attenuation_median_db", "attenuation.median", "dB", 2, "its median"),
    _inside("attenuation_most_db", "attenuation.most", "dB", 2, "what 0.1 % exceed"),
    _inside("attenuation_share_pct", "attenuation.share", "%", 0, "how much of the time it is above 0.5 dB"),
    _inside("residue_db", "residue", "dB", 1, "what neither a filter nor a moving gain explains, below the output"),
    _inside("residue_floor_db", "residue.floor", "dB", 1, "no residue below it can be told here"),
    _inside("distortion_pct", "distortion", "%", 3, "harmonics of a tone at programme level, THD"),
    _inside("distortion_floor_pct", "distortion.floor", "%", 4, "what is lost in noise can amount to"),
    _inside("second_harmonic_db", "second harmonic", "dB", 1, "of that tone, below it"),
    _inside("third_harmonic_db", "third harmonic", "dB", 1, "of that tone, below it"),
)  # fmt: skip
BY_KEY = {quantity.key: quantity for quantity in QUANTITIES}
BY_NAME = {quantity.name: quantity for quantity in QUANTITIES}
#: What is measured of every file.
OF_FILES = tuple(quantity for quantity in QUANTITIES if not quantity.inside)


@cache
def find_quantity(key: str) -> Quantity | None:
    """The quantity of a key: one of `BY_KEY`, or a stage's, "limiter.residue_db", named after it; None = unknown."""
    if (whole := BY_KEY.get(key)) is not None:
        return whole
    stage, _, rest = key.rpartition(".")
    own = BY_KEY.get(rest)
    if not stage or own is None or not own.inside:
        return None
    return replace(own, key=key, name=f"{stage}.{own.name}")


def quantity_of(key: str) -> Quantity:
    """As `find_quantity`. Raises KeyError for a key that is none."""
    if (found := find_quantity(key)) is None:
        raise KeyError(key)
    return found


def named_quantity(name: str) -> tuple[str, Quantity] | None:
    """The stage, "" for none, and the quantity that a name means: "true peak", "limiter.attenuation.most"; None = none.

    name: in small letters as far as the quantity goes; the stage's is taken as it is written. A file's own measurements
    behind a stage's name come back too: they are the caller's to refuse.
    """
    if name in BY_NAME:
        return "", BY_NAME[name]
    ends = [quantity for quantity in QUANTITIES if name.endswith(f".{quantity.name}") and name[0] != "."]
    if not ends:
        return None
    longest = max(ends, key=lambda quantity: len(quantity.name))
    return name[: -len(longest.name) - 1], longest
