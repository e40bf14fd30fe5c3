"""The folder of one run: made once, never written over."""

from __future__ import annotations

import contextlib
import hashlib
import json
import re
import shutil
import unicodedata
from collections.abc import Iterator, Mapping
from datetime import datetime
from pathlib import Path
from typing import IO

from filelock import FileLock, Timeout

from sweeper.errors import RunFolderError
from sweeper.render.writing import write_whole

RUN_NAME, LOG_NAME, LOCK_NAME = "run.json", "log.jsonl", ".lock"
_MOST_RUNS_OF_A_NAME = 10_000


class RunFolder:
    """One run's folder and its log. A context manager; leaving it closes the log.

    While it is open no other process can open it; the end of this one, however it comes, frees it.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._log: IO[str] | None = None
        self._lock = FileLock(path / LOCK_NAME, timeout=0, thread_local=False, fallback_to_soft=False)

    @staticmethod
    def at(path: Path) -> RunFolder:
        """The folder of a run that was begun. Raises RunFolderError for any other folder."""
        if not (path / RUN_NAME).is_file():
            raise RunFolderError(f"{path} is not the folder of a run: there is no {RUN_NAME} in it",
                                 "name a chain file, or a folder that a run made in results/")  # fmt: skip
        return RunFolder(path)

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
            self._lock.acquire()
            for part in list(self.path.rglob(".*.part*")):  # nobody else is at work here: an earlier end left them
                shutil.rmtree(part) if part.is_dir() else part.unlink(missing_ok=True)
            self._log = (self.path / LOG_NAME).open("a", encoding="utf-8")
        except Timeout as exc:
            raise RunFolderError(f"another sweeper is at work in {self.path}", "wait for its end, or stop it") from exc
        except OSError as exc:
            self._lock.release()
            raise RunFolderError(f"cannot write in {self.path}: {exc.strerror or exc}", "check the disk") from exc
        return self

    def __exit__(self, *_: object) -> None:
        if self._log is not None:
            with contextlib.suppress(OSError):  # a full disk: what was said before stands, and the end is not held up
                self._log.close()
        self._lock.release()

    def logged(self, event: str) -> Iterator[dict[str, object]]:
        """The log's lines of one kind, from every time that the run was at work. A half-written line is passed over."""
        with (self.path / LOG_NAME).open(encoding="utf-8", errors="replace") as lines:
            for line in lines:
                try:
                    data = json.loads(line)
                except ValueError:  # the process was killed while it wrote this one
                    continue
                if isinstance(data, dict) and data.get("event") == event:
                    yield data

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
                shutil.rmtree(part) if part.is_dir() else part.unlink()

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
        write_whole(path, text)
        return path


def slug(title: str) -> str:
    """A title as part of a folder name: letters, digits and hyphens, at most 60."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-") or "run"
