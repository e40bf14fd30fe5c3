"""The folder of one album: made once, never written over."""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path

from sweeper.audio.placing import unwritable
from sweeper.errors import RunFolderError
from sweeper.recall.albums import ALBUM_NAME
from sweeper.render.folder import slug

PROOF_NAME, PAGE_NAME, TABLE_NAME, CHECKSUMS_NAME = "proof.wav", "order.html", "order.csv", "checksums.sha256"
MOST = 10_000


def free_folder(results: Path, title: str, now: datetime) -> Path:
    """results/DATE-TITLE-album, with a number behind it when that is taken; not made yet."""
    name = f"{now:%Y-%m-%d}-{slug(title)}-album"
    numbered = (results / (name if number == 1 else f"{name}-{number}") for number in range(1, MOST))
    found = next((path for path in numbered if not os.path.lexists(path)), None)
    if found is None:
        raise RunFolderError(f"{results} holds {MOST} folders called {name}", "change the album's title")
    return found


def make(folder: Path, parts: list[Path]) -> None:
    """Make the folder, which nobody else may have made meanwhile, and those in it. Raises RunFolderError."""
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        folder.mkdir()
        for part in parts:
            part.mkdir(exist_ok=True)
    except OSError as error:
        raise unwritable(folder / ALBUM_NAME, error) from error
