"""Writing an entry: it appears whole or not at all. For workers; needs no Store."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweeper.audio import AudioFormat, WavWriter
from sweeper.audio.placing import part_path
from sweeper.errors import RunFolderError, StoreError
from sweeper.records import StageRecord
from sweeper.render.store.entry import TAG, Description, as_bytes, whole
from sweeper.render.store.lock import REMEDY, locked, usable
from sweeper.render.store.place import json_path, wav_path


class EntryWriter:
    """An entry being written. A context manager; without `commit` it leaves nothing behind."""

    def __init__(self, folder: Path, key: str, format: AudioFormat) -> None:
        self.folder = folder
        self.key = key
        self.format = format
        self._digest = hashlib.sha256()
        self._wav_part = part_path(wav_path(folder, key))
        self._json_part = part_path(json_path(folder, key))
        self._wav = WavWriter(self._wav_part, format.channels, format.rate_hz, lasting=False, digest=self._digest)

    def __enter__(self) -> EntryWriter:
        with self._said():
            self._wav_part.parent.mkdir(parents=True, exist_ok=True)
            self._wav.__enter__()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        with self._said():
            self._wav.__exit__(kind, error, trace)
            self._wav_part.unlink(missing_ok=True)
            self._json_part.unlink(missing_ok=True)

    def write(self, block: NDArray[np.floating[Any]]) -> None:
        """Append a block, (channels, frames), finite, 1.0 = 0 dBFS; kept as float32. Raises StoreError."""
        with self._said():
            self._wav.write(block)

    def commit(self, stages: Sequence[StageRecord], notes: Sequence[str], plugin_s: float) -> None:
        """Let the entry appear; where another process was quicker, its entry stands.

        stages, notes: of everything that made it. plugin_s: the plugins' time. Nothing can be written after.
        Raises StoreError.
        """
        frames, format = self._wav.frames, self.format
        description = Description(self.key, frames, format.channels, format.rate_hz, self._digest.hexdigest(),
                                  tuple(stages), tuple(notes), float(plugin_s))  # fmt: skip
        content = as_bytes(description)
        with self._said():
            self._wav.commit(TAG)
            self._json_part.write_bytes(content)
        with locked(self.folder):
            if not whole(self.folder, self.key):
                self._publish()

    def _publish(self) -> None:
        """The description goes last: until it is there, the entry is not."""
        json_path(self.folder, self.key).unlink(missing_ok=True)
        self._wav_part.replace(wav_path(self.folder, self.key))
        self._json_part.replace(json_path(self.folder, self.key))

    @contextmanager
    def _said(self) -> Iterator[None]:
        with usable(self.folder):
            try:
                yield
            except RunFolderError as error:
                why = error.what.removeprefix(f"{self._wav_part}: ")
                raise StoreError(f"the store of rendered steps {self.folder} cannot be used: {why}", REMEDY) from error


def write_entry(folder: Path, key: str, format: AudioFormat) -> EntryWriter:
    """A writer for the entry under `key`, to be used as a context manager. Raises ValueError for no key.

    The store's room is not looked at: reserve it before.
    """
    return EntryWriter(folder, key, format)
