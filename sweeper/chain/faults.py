"""Reading a chain file: every fault of it collected, so that all are told at once, and where its files lie now."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from sweeper import version
from sweeper.chain.model import Mark
from sweeper.errors import Problem

KEEP_ONE = "keep one of the two"
VERSION = ".".join(version.VERSION.split(".")[:2])


class Faults:
    """The faults found so far in one file. file: as the user wrote it.

    moved: where files and folders lie now that the chain file names elsewhere, by the path that it leads to.
    """

    def __init__(self, file: str, moved: Mapping[str, Path] | None = None) -> None:
        self._file = file
        self._moved = moved or {}
        self._found: dict[Problem, None] = {}
        self._spoilt: set[Mark] = set()

    def placed(self, path: Path) -> Path:
        """Where a file or folder lies that the chain file leads to."""
        return self._moved.get(str(path), path)

    def add(self, mark: Mark | None, what: str, remedy: str = "") -> None:
        """Note a fault at a place; None = the file as a whole. Told once however often it is met."""
        if mark in self._spoilt:
            return
        line, column = (mark.line, mark.column) if mark else (0, 0)
        self._found[Problem(self._file, line, column, what, remedy)] = None

    def add_spoilt(self, mark: Mark, what: str, remedy: str) -> None:
        """Note that the text at a place is not what the user meant: nothing more is said about it."""
        self.add(mark, what, remedy)
        self._spoilt.add(mark)

    def include(self, problems: Iterable[Problem]) -> None:
        """Take in what was found in another file that this one names."""
        self._found.update(dict.fromkeys(problems))

    def not_built(self, mark: Mark, what: str, remedy: str) -> None:
        """Note that the file asks for something that a later version will do."""
        self.add(mark, f"{what} is not built in this version ({VERSION})", remedy)

    def __bool__(self) -> bool:
        return bool(self._found)

    @property
    def problems(self) -> tuple[Problem, ...]:
        """Every fault, in the order of the file."""
        return tuple(sorted(self._found, key=lambda problem: (problem.line, problem.column)))
