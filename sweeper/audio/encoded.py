"""Delivered files that libsndfile writes: AIFF, FLAC, MP3, Ogg Vorbis, Ogg Opus; whole at their place, or not there."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweeper.audio.format import Word
from sweeper.audio.labels import Labels, label
from sweeper.audio.placing import part_path, place, refuse_taken, unwritable

#: What libsndfile is asked for: its format and subtype. Integers: by the word.
FORMATS = {
    "AIFF": ("AIFF", ""),
    "FLAC": ("FLAC", ""),
    "MP3": ("MP3", "MPEG_LAYER_III"),
    "VORBIS": ("OGG", "VORBIS"),
    "OPUS": ("OGG", "OPUS"),
}
LOSSY = ("MP3", "VORBIS", "OPUS")
#: What libsndfile makes of its compression level, 0 to 1: kbit/s from the first to the second, for MP3 from 32 kHz on
#: in all, for Opus a channel (read in its source, version 1.2).
MP3_KBPS, OPUS_KBPS = (320.0, 32.0), (256.0, 6.0)


@dataclass(frozen=True)
class Encoding:
    """container: a key of FORMATS. word: of AIFF, FLAC. kbps: of MP3 (constant) and Opus. quality: of Vorbis, to 10."""

    container: str
    word: Word = Word.PCM_16
    kbps: float = 0.0
    quality: float = 0.0

    def compression(self, channels: int) -> float | None:
        """libsndfile's compression level, 0 (least) to 1; None where nothing is lost."""
        if self.container == "MP3":
            first, last = MP3_KBPS
            return min(1.0, max(0.0, (first - self.kbps) / (first - last)))
        if self.container == "OPUS":
            first, last = OPUS_KBPS
            return min(1.0, max(0.0, (first - self.kbps / channels) / (first - last)))
        return min(1.0, max(0.0, 1.0 - self.quality / 10.0)) if self.container == "VORBIS" else None


class EncodedWriter:
    """A file that appears at `path` on `commit`, whole, and leaves nothing behind without it. A context manager.

    Raises RunFolderError when `path` is taken or the disk refuses.
    """

    def __init__(self, path: Path, channels: int, rate_hz: int, encoding: Encoding) -> None:
        self.path, self.channels, self.rate_hz, self.encoding = path, channels, rate_hz, encoding
        self.frames = 0
        self._part = part_path(path)
        self._file: Any = None

    def __enter__(self) -> EncodedWriter:
        import soundfile

        refuse_taken(self.path)
        container, subtype = FORMATS[self.encoding.container]
        constant = {"bitrate_mode": "CONSTANT"} if self.encoding.container == "MP3" else {}
        try:
            self._part.open("xb").close()  # says in the system's words why nothing can be written here
            self._file = soundfile.SoundFile(
                self._part,
                "w",
                self.rate_hz,
                self.channels,
                subtype or f"PCM_{self.encoding.word.value}",
                format=container,
                compression_level=self.encoding.compression(self.channels),
                **constant,
            )
        except OSError as error:
            self._discard()
            raise unwritable(self.path, error) from error
        except soundfile.LibsndfileError as error:
            self._discard()
            raise unwritable(self.path, OSError(str(error))) from error
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._discard()

    def write(self, block: NDArray[Any]) -> None:
        """Append a block, (channels, frames): int32 words where nothing is lost, else float with 1.0 = 0 dBFS."""
        lossy = self.encoding.container in LOSSY
        if block.ndim != 2 or block.shape[0] != self.channels or block.dtype.kind != ("f" if lossy else "i"):
            raise ValueError(f"no block for {self.encoding.container}: {block.dtype} {block.shape}")
        samples = np.ascontiguousarray(block.T)
        self._written(samples if lossy else samples << (32 - self.encoding.word.value))
        self.frames += block.shape[1]

    def _written(self, samples: NDArray[Any]) -> None:
        import soundfile

        try:
            self._file.write(samples)
        except (soundfile.LibsndfileError, OSError) as error:
            raise unwritable(self.path, OSError(str(error))) from error

    def commit(self, labels: Labels) -> None:
        """Close the file, label it, wait for the disk, give it its name. Nothing can be written after."""
        import soundfile

        try:
            self._file.close()
            self._file = None
            label(self._part, self.encoding.container, labels)
            with self._part.open("rb+") as handle:
                os.fsync(handle.fileno())
            place(self._part, self.path)
        except soundfile.LibsndfileError as error:
            raise unwritable(self.path, OSError(str(error))) from error
        except OSError as error:
            raise unwritable(self.path, error) from error

    def _discard(self) -> None:
        if self._file is not None:
            self._file.close()
            self._file = None
        self._part.unlink(missing_ok=True)
