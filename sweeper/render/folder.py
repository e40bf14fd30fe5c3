"""The folder of one run: made once, never written over."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import unicodedata
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import IO

from sweeper.errors import RunFolderError

_MOST_RUNS_OF_A_NAME = 10_000


class RunFolder:
    """One run's folder and its log. A context manager; leaving it closes the log."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._log: IO[str] | None = None

    @staticmethod
    def create(results: Path, title: str, now: datetime) -> RunFolder:
        """Make results/DATE-TITLE, with a number behind it when that is taken.

        Raises RunFolderError when the folder cannot be made.
        """
        name = f"{now:%Y-%m-%d}-{slug(title)}"
        try:
            results.mkdir(parents=True, exist_ok=True)
            for number in range(1, _MOST_RUNS_OF_A_NAME):
                path = results / (name if number == 1 else f"{name}-{number}")
                try:
                    path.mkdir()
                except FileExistsError:
                    continue
                (path / "variants").mkdir()
                return RunFolder(path)
        except OSError as exc:
            raise RunFolderError(f"cannot make a run folder in {results}: {exc.strerror or exc}",
                                 "name another place with --results") from exc  # fmt: skip
        raise RunFolderError(f"{results} holds {_MOST_RUNS_OF_A_NAME} runs called {name}", "change the title")

    def __enter__(self) -> RunFolder:
        try:
            self._log = (self.path / "log.jsonl").open("a", encoding="utf-8")
        except OSError as exc:
            raise RunFolderError(f"cannot write in {self.path}: {exc.strerror or exc}", "check the disk") from exc
        return self

    def __exit__(self, *_: object) -> None:
        if self._log is not None:
            self._log.close()

    def variant(self, id: str) -> Path:
        """The folder of one variant, made when it is not there."""
        return self.subfolder(f"variants/{id}")

    def subfolder(self, name: str) -> Path:
        """A folder in the run's, made when it is not there; its absolute path."""
        path = self.path.absolute() / name
        try:
            path.mkdir(exist_ok=True)
        except OSError as exc:
            raise RunFolderError(f"cannot make {path}: {exc.strerror or exc}", "check the disk") from exc
        return path

    def sweep_up(self, place: str) -> None:
        """Remove the half-written files that a worker left in a place of the run's when it was killed."""
        for part in (self.path / place).glob(".*.part*"):
            with contextlib.suppress(OSError):  # another look at a later run's end; nothing of value is in it
                part.unlink()

    def keep(self, file: Path, folder: str) -> None:
        """Copy a file into a folder of the run's, under the hash of its content and its own suffix."""
        try:
            content = file.read_bytes()
            target = self.subfolder(folder) / f"{hashlib.sha256(content).hexdigest()}{file.suffix}"
            part = target.with_name(f".{target.name}.part")
            part.write_bytes(content)
            part.replace(target)
        except OSError as exc:
            raise RunFolderError(f"cannot keep a copy of {file}: {exc.strerror or exc}", "check the disk") from exc

    def log(self, event: Mapping[str, object]) -> None:
        """Append one line to log.jsonl, with the time."""
        if self._log is None:
            return
        stamped = {"at": datetime.now().astimezone().isoformat(timespec="milliseconds"), **event}
        try:
            self._log.write(json.dumps(stamped, ensure_ascii=False, default=str) + "\n")
            self._log.flush()
        except OSError as exc:
            raise RunFolderError(f"cannot write the log in {self.path}: {exc.strerror or exc}",
                                 "make room on the disk; finished variants are kept") from exc  # fmt: skip

    def write_json(self, name: str, data: Mapping[str, object]) -> Path:
        """Write a JSON file, whole or not at all; one of the same name in this run is replaced."""
        return self.write_text(name, json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n")

    def write_text(self, name: str, text: str) -> Path:
        """Write a text file, whole or not at all; one of the same name in this run is replaced."""
        path = self.path / name
        part = path.with_name(f".{path.name}.part")
        try:
            with part.open("w", encoding="utf-8", newline="") as handle:
                handle.write(text)
                handle.flush()
                os.fsync(handle.fileno())
            part.replace(path)
        except OSError as exc:
            raise RunFolderError(f"cannot write {path}: {exc.strerror or exc}",
                                 "make room on the disk; finished variants are kept") from exc  # fmt: skip
        return path


def slug(title: str) -> str:
    """A title as part of a folder name: letters, digits and hyphens, at most 60."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-") or "run"
