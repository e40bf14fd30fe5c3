"""Where the store is and where things are in it.

    README.txt, store.lock, uses.json
    leases/NAME.lock, NAME.json     a process and what it needs
    ab/abcd….wav, abcd….json        an entry: its samples and what made them
"""

from __future__ import annotations

import os
import re
from pathlib import Path

import platformdirs

FOLDER_VARIABLE = "SWEEPER_STORE"
README_NAME = "README.txt"
README = """\
Sound that sweeper has rendered and may need again: the steps of mastering chains, as 32-bit float WAV files.

All of this may be deleted while no sweeper is running; it is rendered again when it is needed.
How much may lie here is set with --store-limit, and where with the environment variable SWEEPER_STORE.
"""
_KEY = re.compile(r"[0-9a-f]{64}")


def default_folder() -> Path:
    """The store of this user: what SWEEPER_STORE names, else a folder among the system's caches."""
    named = os.environ.get(FOLDER_VARIABLE, "").strip()
    if named:
        return Path(named).expanduser().absolute()
    return platformdirs.user_cache_path("sweeper", appauthor=False) / "steps"


def wav_path(folder: Path, key: str) -> Path:
    """Where an entry's samples are. Raises ValueError when `key` is no sha256 in hex."""
    if not _KEY.fullmatch(key):
        raise ValueError(f"a key is 64 hex digits, not {key!r}")
    return folder / key[:2] / f"{key}.wav"


def json_path(folder: Path, key: str) -> Path:
    """Where it stands what made an entry; written last. Raises ValueError as `wav_path` does."""
    return wav_path(folder, key).with_suffix(".json")
