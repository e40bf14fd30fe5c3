"""A run as it stands in its folder: read back from run.json."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sweeper.errors import RunFolderError
from sweeper.quantities import Measurements
from sweeper.render.folder import RUN_NAME
from sweeper.table.data import row_from
from sweeper.table.row import Row

SCHEMA = 1


@dataclass(frozen=True)
class WrittenFile:
    """A mix or a reference of a run. file: as it was found then. match_gain_db: None for a reference."""

    file: str
    measurements: Measurements
    match_gain_db: float | None


@dataclass(frozen=True)
class WrittenRun:
    """A run read back. path: its folder. state: "running", "finished" or "interrupted". chain_text: to the letter.

    asked: how many variants there were to be; rows: those that are in, by id. varied: what was chosen for each, by id.
    """

    path: Path
    title: str
    state: str
    chain_text: str
    asked: int
    rows: tuple[Row, ...]
    mixes: tuple[WrittenFile, ...]
    references: tuple[WrittenFile, ...]
    varied: Mapping[str, Mapping[str, str]] = field(default_factory=dict)


def read_run(folder: Path) -> WrittenRun:
    """The run of that folder, finished or interrupted.

    Raises RunFolderError when it is no run's folder, has no rows yet, or cannot be read.
    """
    path, data = read_ledger(folder)
    answer: Mapping[str, Any] = data.get("answer") or {}
    rows = answer.get("variants", data.get("rows"))
    if not rows:
        raise RunFolderError(f"{path} has no table yet", "it is there when the run is over or was stopped with Ctrl-C; "
                             f"`sweeper run {path}` goes on with one that was broken off")  # fmt: skip
    try:
        return WrittenRun(
            path=path, title=data["title"], state=data["state"], chain_text=data["chain"],
            asked=len(data["variants"]), rows=tuple(sorted(map(row_from, rows), key=lambda row: row.id)),
            mixes=tuple(map(_file, answer.get("mixes", ()))),
            references=tuple(map(_file, answer.get("references", ()))),
            varied={one["id"]: one.get("varied", {}) for one in data["variants"]},
        )  # fmt: skip
    except (KeyError, TypeError, ValueError, AttributeError) as exc:
        raise damaged(path / RUN_NAME, f"{type(exc).__name__}: {exc}") from exc


def read_ledger(folder: Path) -> tuple[Path, dict[str, Any]]:
    """A run's folder and what its run.json says. folder: also a file in it, such as run.json itself."""
    path = folder.parent if folder.is_file() else folder
    file = path / RUN_NAME
    try:
        data = json.loads(file.read_text(encoding="utf-8"))
    except (FileNotFoundError, NotADirectoryError) as exc:
        what = "is no run's folder: there is no run.json in it" if path.is_dir() else "is not there"
        raise RunFolderError(f"{path} {what}", "name the folder of a run, as `sweeper run` printed it") from exc
    except OSError as exc:
        raise RunFolderError(f"cannot read {file}: {exc.strerror or exc}", "check the folder's permissions") from exc
    except ValueError as exc:
        raise damaged(file, str(exc)) from exc
    if not isinstance(data, dict) or data.get("schema") != SCHEMA:
        raise damaged(file, "it is not of schema 1")
    return path, data


def damaged(file: Path, why: str) -> RunFolderError:
    """What to say of a file that is there and cannot be understood."""
    return RunFolderError(f"{file} cannot be understood ({why})",
                          "it was changed, or is of another version of sweeper")  # fmt: skip


def _file(data: Mapping[str, Any]) -> WrittenFile:
    return WrittenFile(data["file"], Measurements.from_data(data["measurements"]), data.get("match_gain_db"))
