"""The broadcast extension (`bext`) of a WAV file: an opaque id, when it was made, and how loud it is.

Source: EBU Tech 3285 version 2; section 2.4 for the rounding of the loudness fields.
"""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

from sweeper.audio.chunks import chunks
from sweeper.audio.unreadable import forbidden, missing

ORIGINATOR = "sweeper"
VERSION = 2
UNUSED = 0x7FFF  # a loudness field without a value
MOST_HUNDREDTHS = 9999  # the fields hold -99.99 to 99.99
#: Description, Originator and its reference, date, time, TimeReference, Version, UMID, loudness, reserved.
_FIELDS = struct.Struct("<256s32s32s10s8sQH64s5h180s")
BEXT_BYTES = _FIELDS.size  # 602, without a coding history


@dataclass(frozen=True)
class BroadcastTag:
    """What our files say of themselves; None = not known.

    reference: an opaque id, at most 32 ASCII characters. date: yyyy-mm-dd. time: hh:mm:ss.
    """

    reference: str
    date: str
    time: str
    loudness_lufs: float | None = None
    range_lu: float | None = None
    true_peak_dbtp: float | None = None
    momentary_max_lufs: float | None = None
    short_term_max_lufs: float | None = None


def moved(tag: BroadcastTag, gain_db: float) -> BroadcastTag:
    """The tag of the same sound `gain_db` louder: levels move, the range does not."""
    return replace(
        tag,
        loudness_lufs=_louder(tag.loudness_lufs, gain_db),
        true_peak_dbtp=_louder(tag.true_peak_dbtp, gain_db),
        momentary_max_lufs=_louder(tag.momentary_max_lufs, gain_db),
        short_term_max_lufs=_louder(tag.short_term_max_lufs, gain_db),
    )


def pack(tag: BroadcastTag) -> bytes:
    """The 602 bytes of a version 2 `bext` chunk.

    Loudness fields are rounded to 0.01, ties away from zero, by their decimal reading; None, infinite, NaN
    and values beyond ±99.99 (a range below 0) are written as unused. Raises ValueError for text that does
    not fit.
    """
    loudness = (
        _hundredths(tag.loudness_lufs),
        _hundredths(tag.range_lu, least=0),
        _hundredths(tag.true_peak_dbtp),
        _hundredths(tag.momentary_max_lufs),
        _hundredths(tag.short_term_max_lufs),
    )
    words = (_ascii(tag.reference, 32), _ascii(tag.date, 10), _ascii(tag.time, 8))
    return _FIELDS.pack(b"", ORIGINATOR.encode("ascii"), *words, 0, VERSION, b"", *loudness, b"")


def unpack(content: bytes) -> BroadcastTag:
    """The tag in the content of a `bext` chunk; before version 2 there are no loudness fields.

    Raises ValueError when it is shorter than 602 bytes.
    """
    if len(content) < BEXT_BYTES:
        raise ValueError(f"a bext chunk has at least {BEXT_BYTES} bytes, this one {len(content)}")
    _, _, reference, date, time, _, version, _, *loudness, _ = _FIELDS.unpack_from(content)
    levels = [_level(value) if version >= VERSION else None for value in loudness]
    return BroadcastTag(_text(reference), _text(date), _text(time), *levels)


def read_tag(path: Path) -> BroadcastTag | None:
    """The tag of a WAV or RF64 file; None when it has none. Raises AudioFileError when it cannot be read."""
    try:
        with path.open("rb") as handle:
            for chunk in chunks(handle):
                if chunk.name == b"bext":
                    handle.seek(chunk.offset)
                    content = handle.read(min(BEXT_BYTES, chunk.size or 0))
                    return unpack(content) if len(content) == BEXT_BYTES else None
    except FileNotFoundError as error:
        raise missing(path) from error
    except OSError as error:
        raise forbidden(path, error) from error
    return None


def _louder(level: float | None, gain_db: float) -> float | None:
    return None if level is None else level + gain_db


def _hundredths(level: float | None, least: int = -MOST_HUNDREDTHS) -> int:
    if level is None or not math.isfinite(level):
        return UNUSED
    rounded = int((Decimal(repr(float(level))) * 100).to_integral_value(ROUND_HALF_UP))
    return rounded if least <= rounded <= MOST_HUNDREDTHS else UNUSED


def _level(hundredths: int) -> float | None:
    return hundredths / 100 if abs(hundredths) <= MOST_HUNDREDTHS else None


def _ascii(text: str, most: int) -> bytes:
    encoded = text.encode("ascii")  # UnicodeEncodeError is a ValueError
    if len(encoded) > most or b"\0" in encoded:
        raise ValueError(f"{text!r} does not fit a field of {most} characters")
    return encoded


def _text(field: bytes) -> str:
    return field.split(b"\0", 1)[0].decode("ascii", errors="replace").rstrip()
