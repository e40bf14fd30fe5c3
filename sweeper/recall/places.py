"""Where sheets lie: in a results folder, in the folder of one run, in an archive that was unpacked."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from sweeper.records import SHEET_NAME

#: The sheets of one run, from its folder.
OF_A_RUN = f"variants/*/{SHEET_NAME}"


def sheets_in(folders: Iterable[Path]) -> Iterator[Path]:
    """Every sheet in the folders, each once: of a run, or of all runs in one; the latest run by name first."""
    met: set[Path] = set()
    for folder in folders:
        for place in (*sorted(folder.glob(OF_A_RUN)), *sorted(folder.glob(f"*/{OF_A_RUN}"), reverse=True)):
            if (real := place.absolute()) not in met:
                met.add(real)
                yield place


def runs_in(folders: Iterable[Path]) -> Iterator[Path]:
    """The folder of every run that has sheets there, each once."""
    return iter(dict.fromkeys(place.parents[2] for place in sheets_in(folders)))
