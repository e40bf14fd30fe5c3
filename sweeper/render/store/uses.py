"""When each entry was last used: an order, which no clock that is set back can turn round."""

from __future__ import annotations

import json
import time
from collections.abc import Mapping
from pathlib import Path

from sweeper.audio.placing import part_path
from sweeper.render.store.contents import Found

USES_NAME = "uses.json"


class Uses:
    """The last use of each key, in ns; kept in a file. Only to be used under the store's lock."""

    def __init__(self, folder: Path) -> None:
        self._path = folder / USES_NAME

    def read(self, found: Mapping[str, Found]) -> dict[str, int]:
        """By key; entries of which no use is known count as used when they were last changed."""
        known = self._known()
        return {**{key: each.changed_ns for key, each in found.items()}, **known}

    def mark(self, key: str) -> None:
        """`key` is used now: later than every other, whatever the clock says. Raises OSError."""
        uses = self._known()
        uses[key] = max(time.time_ns(), 1 + max(uses.values(), default=0))
        self.write(uses)

    def write(self, uses: Mapping[str, int]) -> None:
        """Replace what is known. Raises OSError."""
        part = part_path(self._path)
        try:
            part.write_text(json.dumps(uses), encoding="ascii")
            part.replace(self._path)
        finally:
            part.unlink(missing_ok=True)

    def _known(self) -> dict[str, int]:
        """What is lost or cannot be read costs the order of use, nothing else."""
        try:
            data = json.loads(self._path.read_bytes())
        except (FileNotFoundError, ValueError):
            return {}
        if not isinstance(data, dict) or not all(type(use) is int for use in data.values()):
            return {}
        return data
