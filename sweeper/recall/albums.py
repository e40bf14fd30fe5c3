"""The proof of an album, known again by what the album noted of it."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sweeper.audio import file_hash

ALBUM_NAME = "album.json"
SEVERAL = 4


@dataclass(frozen=True)
class ProofOf:
    """An album whose proof a file is. tracks: the files that lead to the sheets of its tracks."""

    title: str
    tracks: tuple[Path, ...]

    @property
    def remedy(self) -> str:
        """What to recall instead."""
        named = ", ".join(map(str, self.tracks[:SEVERAL]))
        return f"recall its tracks: {named}{', ...' if len(self.tracks) > SEVERAL else ''}"


def proof_of(file: Path, folders: Sequence[Path]) -> ProofOf | None:
    """The album in one of the results folders that `file` is the proof of; None for any other file."""
    albums = list(_albums(folders))
    sha256 = file_hash(file) if albums else ""
    for place, data in albums:
        try:
            if data["proof"]["sha256"] == sha256:
                return ProofOf(str(data["title"]), tuple(place.parent / track["proof_of"] for track in data["tracks"]))
        except (KeyError, TypeError):  # a file of that name that no album of ours wrote
            continue
    return None


def _albums(folders: Sequence[Path]) -> Iterator[tuple[Path, dict[str, Any]]]:
    for folder in folders:
        for place in sorted((*folder.glob(ALBUM_NAME), *folder.glob(f"*/{ALBUM_NAME}"))):
            try:
                data = json.loads(place.read_text("utf-8"))
            except (OSError, ValueError):  # nothing that an album wrote
                continue
            if isinstance(data, dict):
                yield place, data
