"""From a printed file back to the variant that it was printed from, by what the run noted when it printed.

A print leaves a JSON file in `prints/` of the run's folder, at any depth, which names its variant once and holds the
hash of every file that it made: of its bytes, or of its samples.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator
from pathlib import Path
from typing import Any

#: Where a run's folder keeps what was printed of it.
PRINTS = "prints"


def printed_variant(run: Path, hashes: Collection[str]) -> str | None:
    """The variant whose print has one of the hashes; None where no print of the run has."""
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
        if isinstance(data, dict) and data.get("variant") == variant:
            names = [each.get("file") for each in data.get("files") or [] if isinstance(each, dict)]
            yield from (f"{manifest.parent.name}: {name}" for name in names if isinstance(name, str))
