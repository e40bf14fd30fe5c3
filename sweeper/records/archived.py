"""What an archive of a run holds beside the run's own files, as plain values."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

from sweeper.records.reading import read

#: In the folder of an archived run: what it holds, and where.
FOLDER = "archive"
CONTENTS_NAME = f"{FOLDER}/contents.json"
SCHEMA = 1


@dataclass(frozen=True)
class ArchivedFile:
    """A file or folder that lay elsewhere. original: where the chain file, or a sheet, led to it.

    inside: where it is in the archive, from the run's folder, with forward slashes. kind: "mix", "reference", "state",
    "return" or "chain file". audio_sha256: of its decoded sound, "" where it has none.
    """

    kind: str
    original: str
    inside: str
    audio_sha256: str = ""


@dataclass(frozen=True)
class Contents:
    """An archive. run: the name of the run's folder. made: date and time. variants: those with a sheet.

    chain_folder: where the chain file lay, "" = the run has none. renders: the variants whose sound it holds.
    """

    run: str
    made: str
    sweeper: str
    files: tuple[ArchivedFile, ...]
    variants: tuple[str, ...]
    renders: tuple[str, ...] = ()
    chain_folder: str = ""
    schema: int = SCHEMA

    def mix(self, audio_sha256: str) -> ArchivedFile | None:
        """The mix with that sound."""
        return next((f for f in self.files if f.kind == "mix" and f.audio_sha256 == audio_sha256), None)


def contents_of(run: Path) -> Contents | None:
    """What the archive in a run's folder holds; None where the folder was never archived, or it cannot be read."""
    try:
        return read(Contents, json.loads((run / CONTENTS_NAME).read_text("utf-8")))
    except (OSError, ValueError):  # without it the original places hold, and what is missing there is told
        return None


def moved_in(run: Path) -> dict[str, Path]:
    """Where files of the chain of an archived run lie now, by the paths that they had; empty for any other folder."""
    contents = contents_of(run)
    return {f.original: run.absolute() / f.inside for f in contents.files} if contents else {}


def moved_for(chain_file: Path) -> dict[str, Path]:
    """The same for a chain file that lies in an archive itself, by the paths that it leads to from there."""
    folder = chain_file.absolute().parent
    run = folder.parents[1] if folder.parent.name == FOLDER else None
    contents = contents_of(run) if run else None
    if run is None or contents is None:
        return {}
    found = moved_in(run)
    for original, now in tuple(found.items()):
        if contents.chain_folder and Path(original).is_relative_to(contents.chain_folder):
            found[str(folder / Path(original).relative_to(contents.chain_folder))] = now
    return found
