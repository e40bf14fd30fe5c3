"""Small text files that are there whole or not at all."""

from __future__ import annotations

from pathlib import Path

from sweeper.audio.placing import replace_text
from sweeper.errors import RunFolderError


def write_whole(path: Path, text: str) -> None:
    """Write a text file of ours beside its place, wait for the disk, rename it; one of that name is replaced.

    Raises RunFolderError when the disk refuses.
    """
    try:
        replace_text(path, text)
    except OSError as exc:
        raise RunFolderError(f"cannot write {path}: {exc.strerror or exc}",
                             "make room on the disk; finished variants are kept") from exc  # fmt: skip
