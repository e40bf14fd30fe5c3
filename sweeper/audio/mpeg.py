"""How long an MP3 stream really is, counted frame by frame.

The decoder estimates a stream without a length header from its first frames: a variable-rate file then reads
as half its length, and nothing says so. Source of the header fields: ISO/IEC 11172-3 and 13818-3, Layer III.
"""

from __future__ import annotations

import mmap
from pathlib import Path

#: kbit/s by index, Layer III; index 0 is free format, 15 is forbidden.
RATES_MPEG_1 = (0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320, 0)
RATES_MPEG_2 = (0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160, 0)
SAMPLE_RATES_HZ = {3: (44100, 48000, 32000, 0), 2: (22050, 24000, 16000, 0), 0: (11025, 12000, 8000, 0)}
MPEG_1 = 3
LAYER_III = 1


def stream_s(path: Path) -> float:
    """Seconds of Layer III frames in the file, encoder delay and a length frame included.

    0.0 when there are none. Raises OSError.
    """
    with path.open("rb") as handle, mmap.mmap(handle.fileno(), 0, access=mmap.ACCESS_READ) as data:
        place, total_s = _after_tag(data), 0.0
        while place >= 0 and place + 4 <= len(data):
            length, seconds = _frame(data[place : place + 4])
            if length:
                total_s += seconds
                place += length
            else:
                place = data.find(b"\xff", place + 1)
        return total_s


def _after_tag(data: mmap.mmap) -> int:
    """Where the sound may start: after an ID3v2 tag (its size has 7 bits a byte), else at 0."""
    if data[:3] != b"ID3" or len(data) < 10:
        return 0
    return 10 + sum((byte & 0x7F) << shift for byte, shift in zip(data[6:10], (21, 14, 7, 0), strict=True))


def _frame(head: bytes) -> tuple[int, float]:
    """Bytes and seconds of the frame that starts with these four bytes; (0, 0.0) when none does."""
    version, layer = head[1] >> 3 & 3, head[1] >> 1 & 3
    if head[0] != 0xFF or head[1] < 0xE0 or version not in SAMPLE_RATES_HZ or layer != LAYER_III:
        return 0, 0.0
    kbit_per_s = (RATES_MPEG_1 if version == MPEG_1 else RATES_MPEG_2)[head[2] >> 4]
    rate_hz = SAMPLE_RATES_HZ[version][head[2] >> 2 & 3]
    if not kbit_per_s or not rate_hz:
        return 0, 0.0
    samples = 1152 if version == MPEG_1 else 576
    return samples // 8 * kbit_per_s * 1000 // rate_hz + (head[2] >> 1 & 1), samples / rate_hz
