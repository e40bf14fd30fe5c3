"""Numbers with units as people write them, and levels as numbers."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

#: How a unit may be written (lower case, no spaces) and how we write it.
SPELLINGS = {
    "": "", "db": "dB", "lufs": "LUFS", "lkfs": "LUFS", "lu": "LU", "dbtp": "dBTP", "dbfs": "dBFS",
    "hz": "Hz", "khz": "kHz", "ms": "ms", "msec": "ms", "s": "s", "sec": "s", "seconds": "s", "%": "%",
    "%travel": "% travel", "frames": "frames", "samples": "frames",
}  # fmt: skip
#: Units that are another unit times a factor.
MULTIPLES = {"kHz": ("Hz", 1000.0), "s": ("ms", 1000.0)}

_AMOUNT = re.compile(r"^\s*([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*$")
_LOOKALIKES = str.maketrans({"\u2212": "-", "\u2013": "-", "\u2014": "-", "\u00a0": " ", "\u202f": " ",
                             "\u2018": "'", "\u2019": "'", "\u201c": '"', "\u201d": '"', "\ufb02": "fl"})  # fmt: skip


@dataclass(frozen=True)
class Amount:
    """A number and its unit, e.g. -10 LUFS. unit is "" where none was written."""

    value: float
    unit: str

    def __str__(self) -> str:
        return f"{self.value:g} {self.unit}".strip()


def plain(text: str) -> str:
    """The text with typographic minus signs, quotes and spaces replaced by the plain ones."""
    return text.translate(_LOOKALIKES)


def folded(name: str) -> str:
    """A name as it is compared: case and spaces are forgiven."""
    return "".join(name.lower().split())


def parse_amount(text: str) -> Amount | None:
    """Read "-10 LUFS", "0,5 dB", "1.2 kHz" or "12"; None when the text does not start with a number.

    Units come back in our spelling where we know them, else as written.
    """
    match = _AMOUNT.match(plain(text))
    if match is None:
        return None
    number, unit = match.groups()
    return Amount(float(number.replace(",", ".")), SPELLINGS.get(unit.lower().replace(" ", ""), unit))


def same_unit(amount: Amount, unit: str) -> float | None:
    """The amount's value expressed in `unit` (our spelling), or None when the two do not compare.

    An amount without a unit is taken to be in `unit`.
    """
    if amount.unit in ("", unit) or amount.unit.lower() == unit.lower():
        return amount.value
    for large, (small, factor) in MULTIPLES.items():
        if (amount.unit, unit) == (large, small):
            return amount.value * factor
        if (amount.unit, unit) == (small, large):
            return amount.value / factor
    return None


def parse_time_s(text: str) -> float | None:
    """Read "1:05", "1:02:03.5", "65" or "65 s" as seconds; None when it is none of them."""
    text = plain(text).strip()
    if re.fullmatch(r"\d+(:[0-5]?\d){1,2}([.,]\d+)?", text):
        seconds = 0.0
        for part in text.split(":"):
            seconds = seconds * 60 + float(part.replace(",", "."))
        return seconds
    amount = parse_amount(text)
    if amount is None or amount.value < 0:
        return None
    found = same_unit(amount, "s")
    return found if found is not None and math.isfinite(found) else None


def clock(seconds: float) -> str:
    """1:05.0, as positions in a mix are written."""
    tenths = round(seconds * 10)
    return f"{tenths // 600}:{tenths % 600 // 10:02d}.{tenths % 10}"


def gain(level_db: float) -> float:
    """The amplitude factor of a level in dB; 0.0 for -inf."""
    return float(10.0 ** (level_db / 20.0))


def level_db(amplitude: float) -> float:
    """20 log10 of an amplitude (1.0 = 0 dB); -inf for 0."""
    return 20.0 * math.log10(amplitude) if amplitude > 0 else -math.inf
