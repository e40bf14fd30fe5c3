"""From a printed file back to the variant that it was printed from, by what the run noted when it printed.

A print leaves a JSON file in `prints/` of the run's folder, at any depth. Beside the variant, for each file or for all
of them, it holds the id that the file carries, and the hash of its bytes or of its samples.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator
from pathlib import Path
from typing import Any

#: Where a run's folder keeps what was printed of it.
PRINTS = "prints"


def printed_variant(run: Path, hashes: Collection[str]) -> str | None:
    """The variant whose print has one of the hashes or ids; None where no print of the run has."""
    for manifest in sorted((run / PRINTS).rglob("*.json")):
        try:
            text = manifest.read_text("utf-8")
            data = json.loads(text) if any(each in text for each in hashes) else None
        except (OSError, ValueError):  # another's file, perhaps: the print's own is told below by its hash
            continue
        if isinstance(data, dict):
            for part in _parts(data):
                if isinstance(part.get("variant"), str) and any(each in json.dumps(part) for each in hashes):
                    return str(part["variant"])
    return None


def _parts(data: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """The mappings in it, inner ones first."""
    for value in data.values():
        for each in value if isinstance(value, list) else [value]:
            if isinstance(each, dict):
                yield from _parts(each)
    yield data


def prints_of(run: Path, variant: str) -> Iterator[str]:
    """The names of the files that were printed of a variant, as the run noted them."""
    for manifest in sorted((run / PRINTS).rglob("*.json")):
        try:
            data = json.loads(manifest.read_text("utf-8"))
        except (OSError, ValueError):  # nothing that a print wrote
            continue
        for part in _parts(data) if isinstance(data, dict) else ():
            if part.get("variant") == variant:
                files = part.get("files")
                named = (part, *(files if isinstance(files, list) else ()))
                told = (each.get("file") for each in named if isinstance(each, dict))
                yield from (name for name in told if isinstance(name, str))
