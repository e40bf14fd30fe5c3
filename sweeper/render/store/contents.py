"""What lies in the store. Only files of our own names are seen, whatever else is in the folder."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

_ENTRY_FILE = re.compile(r"([0-9a-f]{64})\.(?:wav|json)")
_PART_FILE = re.compile(r"\.+([0-9a-f]{64})\.(?:wav|json)\.part-.+")
_SUBFOLDER = re.compile(r"[0-9a-f]{2}")


@dataclass(frozen=True)
class Found:
    """An entry as the folder shows it. whole: both files are there. bytes: of what there is."""

    whole: bool
    bytes: int
    changed_ns: int


def entries(folder: Path) -> dict[str, Found]:
    """The entries, and halves of such, by key. Raises OSError."""
    stats: dict[str, list[os.stat_result]] = {}
    for subfolder in _subfolders(folder):
        for key, path in _named(subfolder, _ENTRY_FILE):
            try:
                stats.setdefault(key, []).append(path.stat())
            except FileNotFoundError:  # removed since the folder was read
                continue
    return {
        key: Found(len(own) == 2, sum(s.st_size for s in own), max(s.st_mtime_ns for s in own))
        for key, own in stats.items()
        if own
    }


def parts(folder: Path) -> list[tuple[str, Path]]:
    """Files that are being written, or were when their process died: (key, path). Raises OSError."""
    return [found for subfolder in _subfolders(folder) for found in _named(subfolder, _PART_FILE)]


def parts_of(folder: Path, key: str) -> list[Path]:
    """Those of one entry. Raises OSError."""
    subfolder = folder / key[:2]
    return [path for each, path in _named(subfolder, _PART_FILE) if each == key] if subfolder.is_dir() else []


def gone(path: Path) -> bool:
    """Remove a file; False when it is in use and the system therefore refuses (Windows). Raises OSError."""
    try:
        path.unlink(missing_ok=True)
    except PermissionError:
        return False
    return True


def _subfolders(folder: Path) -> list[Path]:
    if not folder.is_dir():
        return []
    return [path for path in sorted(folder.iterdir()) if _SUBFOLDER.fullmatch(path.name) and path.is_dir()]


def _named(subfolder: Path, pattern: re.Pattern[str]) -> Iterator[tuple[str, Path]]:
    for path in list(subfolder.iterdir()):
        match = pattern.fullmatch(path.name)
        if match and match[1].startswith(subfolder.name):
            yield match[1], path
