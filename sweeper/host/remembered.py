"""What is known of the installed plugins from the last time they were loaded: a JSON file among the system's caches."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import asdict
from importlib.metadata import version
from pathlib import Path
from typing import Any

import platformdirs

from sweeper.audio import file_hash
from sweeper.audio.placing import replace_text
from sweeper.errors import AudioFileError, StoreError
from sweeper.host.tried import Loads, Program, Quarantined, Tried

FOLDER_VARIABLE = "SWEEPER_STORE"
NAME = "plugins.json"
_SCHEMA = 1


def remembered_file() -> Path:
    """Where it is: in the folder that SWEEPER_STORE names, else among the system's caches."""
    named = os.environ.get(FOLDER_VARIABLE, "").strip()
    folder = Path(named).expanduser().absolute() if named else platformdirs.user_cache_path("sweeper", appauthor=False)
    return folder / NAME


def remembered() -> dict[str, Tried]:
    """What came of every plugin file that was ever loaded, by its path. Empty where there is nothing to be read."""
    try:
        data = json.loads(remembered_file().read_text("utf-8"))
        return {path: _tried(one) for path, one in data["plugins"].items()} if data["schema"] == _SCHEMA else {}
    except (OSError, ValueError, KeyError, AttributeError, TypeError):  # they are loaded again
        return {}


def remember(found: Mapping[str, Tried]) -> None:
    """Add to what is remembered. Raises StoreError when the file cannot be written."""
    file = remembered_file()
    plugins = {path: asdict(one) for path, one in sorted({**remembered(), **found}.items())}
    text = json.dumps({"schema": _SCHEMA, "plugins": plugins}, indent=1, ensure_ascii=False) + "\n"
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        replace_text(file, text)
    except OSError as exc:
        raise StoreError(f"cannot write {file}: {exc.strerror or exc}",
                         "free some disk, or name another folder in SWEEPER_STORE") from exc  # fmt: skip


def program_now(file: Path) -> Program:
    """A program file as it is now, with its hash; "" where it cannot be read, which is like no other hash."""
    size_bytes, time_ns = _stamp(file)
    return Program(size_bytes, time_ns, _hash(file), _library())


def looks_unchanged(program: Program, file: Path) -> bool:
    """Whether a program file is what it was, by its size and time, and what hosts it too; reads nothing of it."""
    return (program.size_bytes, program.time_ns, program.library) == (*_stamp(file), _library())


def is_unchanged(program: Program, file: Path) -> bool:
    """As `looks_unchanged`; a file that only has another time is told by its hash."""
    if looks_unchanged(program, file):
        return True
    same = program.size_bytes == _stamp(file)[0] and program.library == _library()
    return same and program.sha256 == _hash(file) != ""


def _hash(file: Path) -> str:
    try:
        return file_hash(file)
    except AudioFileError:  # it is loaded, or tried to, which tells in words what is wrong with it
        return ""


def _stamp(file: Path) -> tuple[int, int]:
    try:
        found = file.stat()
    except OSError:
        return -1, -1
    return found.st_size, found.st_mtime_ns


def _library() -> str:
    return f"pedalboard {version('pedalboard')}"


def _tried(data: Mapping[str, Any]) -> Tried:
    return Tried(
        Program(**data["program"]), tuple(Loads(**one) for one in data["loads"]),
        tuple(Quarantined(**one) for one in data["quarantined"]),
    )  # fmt: skip
