"""Markers in a WAV file: a `cue ` chunk with a place for each, and a `LIST adtl` with its name.

Source: Multimedia Programming Interface and Data Specifications 1.0 (IBM and Microsoft, 1991), "Cue-Points Chunk" and
"Associated Data Chunk"; the fields from memory, and read back by ffmpeg in the tests.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence

from sweeper.audio.chunks import riff_chunk

#: Places are 32-bit frame numbers.
MOST_FRAMES = 0xFFFFFFFF


def cue_chunks(marks: Sequence[tuple[int, str]]) -> bytes:
    """The chunks to stand behind the sound. marks: (frame, name) of each, by place; b"" for none.

    Raises ValueError for a place beyond 2^32 frames, a day at 48 kHz.
    """
    if not marks:
        return b""
    if max(frame for frame, _ in marks) > MOST_FRAMES:
        raise ValueError("a marker beyond 2^32 frames")
    points = b"".join(struct.pack("<II4sIII", n, frame, b"data", 0, 0, frame) for n, (frame, _) in enumerate(marks, 1))
    names = b"".join(
        riff_chunk(b"labl", struct.pack("<I", n) + name.encode("utf-8") + b"\0") for n, (_, name) in enumerate(marks, 1)
    )
    return riff_chunk(b"cue ", struct.pack("<I", len(marks)) + points) + riff_chunk(b"LIST", b"adtl" + names)
