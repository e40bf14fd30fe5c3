"""Where prints, their checksums and their manifest go; never over anything."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sweeper.audio.placing import refuse_taken, unwritable
from sweeper.delivery.kept import Kept
from sweeper.errors import PrintError

PRINTS = "prints"
CHECKSUMS = "checksums"
MOST = 10_000


@dataclass(frozen=True)
class Places:
    """folder: of the files, and nothing else. manifest: in the run's folder, which stays here."""

    folder: Path
    targets: tuple[Path, ...]
    checksums: Path
    manifest: Path

    def make(self) -> None:
        """Make the folders. Raises RunFolderError."""
        for folder in (self.folder, self.manifest.parent):
            try:
                folder.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise unwritable(folder / "x", error) from error


def places_for(kept: Kept, out: Path | None, names: Sequence[str]) -> Places:
    """Free places. out: the user's folder, None = a new one in the run's.

    Raises PrintError where two files would have one name, RunFolderError where a name is taken.
    """
    twice = [name for name, count in Counter(name.casefold() for name in names).items() if count > 1]
    if twice:
        raise PrintError(
            f"two files would be called {next(name for name in names if name.casefold() == twice[0])}",
            'put {spec} in the pattern: --name "{title} ({spec})"',
        )
    own, manifest = _free(kept)
    folder = out or own
    targets = tuple(folder / name for name in names)
    for target in targets:
        refuse_taken(target, "name another folder with --out, or other files with --name")
    checksums = next(
        path for n in range(1, MOST) if not os.path.lexists(path := folder / f"{_numbered(CHECKSUMS, n)}.sha256")
    )
    return Places(folder, targets, checksums, manifest)


def free_manifest(kept: Kept) -> Path:
    """Where the manifest of new prints of a variant goes."""
    return _free(kept)[1]


def _free(kept: Kept) -> tuple[Path, Path]:
    prints = kept.run / PRINTS
    number = next(n for n in range(1, MOST) if not any(os.path.lexists(place) for place in _own(prints, kept.id, n)))
    return _own(prints, kept.id, number)


def _own(prints: Path, id: str, number: int) -> tuple[Path, Path]:
    name = _numbered(id, number)
    return prints / name, prints / f"{name}.json"


def _numbered(name: str, number: int) -> str:
    return name if number == 1 else f"{name}-{number}"
