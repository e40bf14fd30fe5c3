"""Our own WAV files: 32-bit float or integers, a broadcast tag, RF64 when they grow past 4 GB.

Written here because the tag's loudness is known only after the last frame, and the decoder library writes
no tag.
Sources: EBU Tech 3285 version 2 (`bext`), EBU Tech 3306 (RF64: a `JUNK` chunk keeps the room for `ds64`),
Microsoft's multimedia standards update (float formats, `fact`, extensible format, speaker masks).
"""

from __future__ import annotations

import os
import struct
from pathlib import Path
from types import TracebackType
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from sweeper.audio.broadcast import BroadcastTag, pack
from sweeper.audio.format import Word
from sweeper.audio.placing import part_path, place, refuse_taken, unwritable

SAMPLE_BYTES = 4  # of 32-bit float, which every file between stages has
LARGEST_RIFF_BYTES = 0xFFFFFFFF  # what a 32-bit size can say
OPEN = 0xFFFFFFFF  # a size that is in `ds64`, or not known yet
PCM, IEEE_FLOAT, EXTENSIBLE = 0x0001, 0x0003, 0xFFFE
SUBTYPE_END = struct.pack("<HH8s", 0, 0x0010, bytes.fromhex("800000aa00389b71"))
#: Which speakers the channels are, by their number: L R C, quadro, 5.0, 5.1, 6.1, 7.1; 0 = not said.
SPEAKERS = {3: 0x7, 4: 0x33, 5: 0x37, 6: 0x3F, 7: 0x70F, 8: 0x63F}
_NOT_KNOWN = BroadcastTag("", "", "")


class Digest(Protocol):
    """A hash that is fed piece by piece, as those of hashlib are."""

    def update(self, content: bytes, /) -> None:
        """Take in the next piece."""


class WavWriter:
    """A WAV file that appears at `path` on `commit`, whole, and leaves nothing behind without it.

    Use as a context manager. Raises RunFolderError when `path` is taken or the disk refuses.
    """

    def __init__(
        self,
        path: Path,
        channels: int,
        rate_hz: int,
        largest_riff_bytes: int = LARGEST_RIFF_BYTES,
        *,
        lasting: bool = True,
        digest: Digest | None = None,
        word: Word = Word.FLOAT_32,
    ) -> None:
        """largest_riff_bytes: past this the file is RF64.

        lasting: whether `commit` waits until the disk has it, so that it outlives a power cut.
        digest: is given every sample as it is written, interleaved little-endian float32 (of integers: what they
        stand for). word: what a sample is in the file.
        """
        self.path = path
        self.channels = channels
        self.rate_hz = rate_hz
        self.frames = 0
        self._largest_riff_bytes = largest_riff_bytes
        self._lasting = lasting
        self._digest = digest
        self._word = word
        self._part = part_path(path)
        self._handle: Any = None

    def __enter__(self) -> WavWriter:
        refuse_taken(self.path)
        try:
            self._handle = self._part.open("xb", buffering=0)
            self._put(header(self.channels, self.rate_hz, None, _NOT_KNOWN, self._largest_riff_bytes, self._word))
        except OSError as error:
            self._discard()
            raise unwritable(self.path, error) from error
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            self._discard()
        except OSError as failure:
            raise unwritable(self.path, failure) from failure

    def write(self, block: NDArray[Any]) -> None:
        """Append a block, (channels, frames): float32 or float64, 1.0 = 0 dBFS, written as float32; or, in a file
        of integers, the words themselves as int32.
        """
        kind = "f" if self._word is Word.FLOAT_32 else "i"
        if block.ndim != 2 or block.shape[0] != self.channels or block.dtype.kind != kind:
            expected = f"{'float' if kind == 'f' else 'int32'} ({self.channels}, frames)"
            raise ValueError(f"a block of {expected} is expected, not {block.dtype} {block.shape}")
        samples = packed(block, self._word)
        try:
            self._put(samples)
        except OSError as error:
            raise unwritable(self.path, error) from error
        if self._digest is not None:
            floats = block if kind == "f" else self._word.floats(block.astype(np.int32))
            self._digest.update(packed(floats, Word.FLOAT_32))
        self.frames += block.shape[1]

    def commit(self, tag: BroadcastTag, behind: bytes = b"") -> None:
        """Write sizes and tag, wait for the disk, give the file its name. Nothing can be written after.

        behind: whole chunks to stand behind the sound.
        """
        odd = self.frames * self.channels * self._word.sample_bytes % 2
        behind = bytes(odd) + behind
        content = header(self.channels, self.rate_hz, self.frames, tag, self._largest_riff_bytes, self._word,
                         len(behind))  # fmt: skip
        try:
            self._put(behind)
            self._handle.seek(0)
            self._put(content)
            if self._lasting:
                os.fsync(self._handle.fileno())
            self._handle.close()
            place(self._part, self.path)
        except OSError as error:
            raise unwritable(self.path, error) from error

    def _put(self, content: bytes) -> None:
        rest = memoryview(content)
        while rest:
            rest = rest[self._handle.write(rest) :]

    def _discard(self) -> None:
        if self._handle is None:
            return
        try:
            self._handle.close()
        finally:
            self._part.unlink(missing_ok=True)


def packed(block: NDArray[Any], word: Word) -> bytes:
    """The bytes of a block, (channels, frames), interleaved little-endian; of int32 the low ones that `word` has."""
    if word is Word.FLOAT_32:
        return np.ascontiguousarray(block.T, dtype="<f4").tobytes()
    words = np.ascontiguousarray(block.T, dtype="<i4").reshape(-1)
    return words.view(np.uint8).reshape(-1, 4)[:, : word.sample_bytes].tobytes()


def header(
    channels: int,
    rate_hz: int,
    frames: int | None,
    tag: BroadcastTag,
    largest_riff_bytes: int = LARGEST_RIFF_BYTES,
    word: Word = Word.FLOAT_32,
    behind_bytes: int = 0,
) -> bytes:
    """Everything before the first sample; as long for any number of frames.

    frames: None = not known yet. behind_bytes: what stands behind the last sample.
    """
    count = frames or 0
    data_bytes = count * channels * word.sample_bytes
    after_ds64 = _chunk(b"bext", pack(tag)) + _chunk(b"fmt ", _format(channels, rate_hz, word))
    if word is Word.FLOAT_32:
        after_ds64 += _chunk(b"fact", struct.pack("<I", min(count, OPEN)))
    riff_bytes = 4 + 8 + 28 + len(after_ds64) + 8 + data_bytes + behind_bytes
    if frames is None or riff_bytes <= largest_riff_bytes:
        kind, room = b"RIFF", _chunk(b"JUNK", bytes(28))
    else:
        kind, room = b"RF64", _chunk(b"ds64", struct.pack("<QQQI", riff_bytes, data_bytes, count, 0))
    if frames is None or kind == b"RF64":
        riff_bytes = data_bytes = OPEN
    start = kind + struct.pack("<I", riff_bytes) + b"WAVE"
    return start + room + after_ds64 + b"data" + struct.pack("<I", data_bytes)


def _chunk(name: bytes, content: bytes) -> bytes:
    return name + struct.pack("<I", len(content)) + content


def _format(channels: int, rate_hz: int, word: Word) -> bytes:
    frame_bytes, bits = channels * word.sample_bytes, 8 * word.sample_bytes
    plain = IEEE_FLOAT if word is Word.FLOAT_32 else PCM
    kind = plain if channels <= 2 else EXTENSIBLE
    start = struct.pack("<HHIIHH", kind, channels, rate_hz, rate_hz * frame_bytes, frame_bytes, bits)
    if kind == PCM:
        return start
    if kind == IEEE_FLOAT:
        return start + struct.pack("<H", 0)
    return start + struct.pack("<HHII", 22, bits, SPEAKERS.get(channels, 0), plain) + SUBTYPE_END
