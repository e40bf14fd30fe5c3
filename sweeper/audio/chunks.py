"""The chunks a sound file is made of: WAV, RF64, AIFF, W64 and CAF.

Read here rather than left to the decoder, which hides that a file was cut short and knows no `bext`.
Sources: EBU Tech 3285 (WAV, bext), EBU Tech 3306 (RF64), Apple's AIFF and CAF specifications.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

#: A scan stops after so many chunks: a run of zero bytes reads as one empty chunk every 8 bytes.
MOST_CHUNKS = 1000


@dataclass(frozen=True)
class Layout:
    """How one family of files writes its chunks.

    kind: what the engineer calls it. first: where the first chunk starts. head: struct format of a chunk's
    name and size. align: chunks start on multiples of so many bytes. counts_head: the size includes the head.
    sound: the chunk that holds the sound. before_sound: bytes of that chunk that come before the first frame.
    """

    kind: str
    first: int
    head: str
    align: int
    sound: bytes
    counts_head: bool = False
    before_sound: int = 0


LAYOUTS = {
    b"RIFF": Layout("WAV", 12, "<4sI", 2, b"data"),
    b"RIFX": Layout("WAV", 12, ">4sI", 2, b"data"),
    b"RF64": Layout("RF64 WAV", 12, "<4sI", 2, b"data"),
    b"FORM": Layout("AIFF", 12, ">4sI", 2, b"SSND", before_sound=8),
    b"riff": Layout("W64", 40, "<16sQ", 8, b"data", counts_head=True),
    b"caff": Layout("CAF", 8, ">4sQ", 1, b"data", before_sound=4),
}


@dataclass(frozen=True)
class Chunk:
    """name: its first four letters. offset: where its content starts. size: in bytes; None = left open."""

    name: bytes
    offset: int
    size: int | None


def layout_of(first_bytes: bytes) -> Layout | None:
    """The layout that a file with these first bytes has; None when it is none that we know."""
    return LAYOUTS.get(first_bytes[:4])


def chunks(handle: BinaryIO) -> Iterator[Chunk]:
    """Each chunk of an open file in order; none for other kinds of file. Ends after a chunk left open."""
    handle.seek(0)
    layout = layout_of(handle.read(4))
    if layout is None:
        return
    end = handle.seek(0, 2)
    head_bytes = struct.calcsize(layout.head)
    open_size = 2 ** (8 * (head_bytes - (16 if layout.counts_head else 4))) - 1
    place, long_data = layout.first, None
    for _ in range(MOST_CHUNKS):
        handle.seek(place)
        head = handle.read(head_bytes)
        if len(head) < head_bytes:
            return
        name, size = struct.unpack(layout.head, head)
        chunk = Chunk(name[:4], place + head_bytes, _settled(name[:4], size, open_size, long_data))
        yield chunk
        if chunk.size is None:
            return
        if chunk.name == b"ds64":
            long_data = _data_size(handle, chunk)
        content = max(0, chunk.size - head_bytes) if layout.counts_head else chunk.size
        place = chunk.offset + -(-content // layout.align) * layout.align
        if place >= end:
            return


def _settled(name: bytes, size: int, open_size: int, long_data: int | None) -> int | None:
    if name == b"data" and size == open_size:
        return long_data or None
    return None if size == open_size else size


def _data_size(handle: BinaryIO, chunk: Chunk) -> int | None:
    """The 64-bit size of the data chunk, from `ds64` (EBU Tech 3306: after the 64-bit RIFF size)."""
    handle.seek(chunk.offset + 8)
    field = handle.read(8)
    size = int(struct.unpack("<Q", field)[0]) if len(field) == 8 else 0
    return None if size == 2**64 - 1 else size


@dataclass(frozen=True)
class SoundExtent:
    """there_bytes: sound that the file holds. promised_bytes: what its header says; None = left open."""

    there_bytes: int
    promised_bytes: int | None


def sound_extent(path: Path) -> SoundExtent | None:
    """How much sound a file of chunks has and promises; None for other files and when no sound chunk begins.

    Writers that stream leave the size at 0 or at all ones: that promises nothing. Raises OSError.
    """
    with path.open("rb") as handle:
        layout = layout_of(handle.read(4))
        end = handle.seek(0, 2)
        found = next((each for each in chunks(handle) if layout and each.name == layout.sound), None)
    if layout is None or found is None:
        return None
    before = layout.before_sound + (struct.calcsize(layout.head) if layout.counts_head else 0)
    there = max(0, end - found.offset - layout.before_sound)
    if found.size is None:
        return SoundExtent(there, None)
    return SoundExtent(there, max(0, found.size - before))


def riff_chunk(name: bytes, content: bytes) -> bytes:
    """A chunk as it is written into a RIFF file: its name, its size, its content, and a byte more where that is odd."""
    return name + struct.pack("<I", len(content)) + content + bytes(len(content) % 2)
