"""Small text files that are there whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

from sweeper.audio.placing import part_path
from sweeper.errors import RunFolderError


def write_whole(path: Path, text: str) -> None:
    """Write a text file of ours beside its place, wait for the disk, rename it; one of that name is replaced.

    Raises RunFolderError when the disk refuses.
    """
    part = part_path(path)
    try:
        with part.open("w", encoding="utf-8", newline="") as handle:
            handle.write(text)
            handle.flush()
            os.fsync(handle.fileno())
        part.replace(path)
    except OSError as exc:
        part.unlink(missing_ok=True)
        raise RunFolderError(f"cannot write {path}: {exc.strerror or exc}",
                             "make room on the disk; finished variants are kept") from exc  # fmt: skip
