"""What the living processes need of the store. A lease ends with its process, whatever ends that.

Each process holds the system's lock on a file of its own; beside it stands the list of its keys (Windows lets
nobody read a locked file). A lock that can be taken belonged to a process that is gone.
"""

from __future__ import annotations

import contextlib
import json
import os
import secrets
from collections import Counter
from pathlib import Path

from filelock import Timeout

from sweeper.audio.placing import part_path
from sweeper.errors import StoreError
from sweeper.render.store.contents import gone
from sweeper.render.store.lock import lock_file

LEASES_NAME = "leases"


class Leases:
    """The leases of this process, and those of the others. All but `close` only under the store's lock."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder / LEASES_NAME
        self._name = f"{os.getpid()}-{secrets.token_hex(4)}"
        self._lock = lock_file(self._folder / f"{self._name}.lock")
        self._counts: Counter[str] = Counter()
        self._reserved: dict[str, int] = {}

    def open(self) -> None:
        """Begin. Raises OSError."""
        self._folder.mkdir(exist_ok=True)
        self._lock.acquire(blocking=False)
        self._save({})

    def close(self) -> None:
        """Every lease of this process ends."""
        self._lock.release()
        for suffix in (".json", ".lock"):
            with contextlib.suppress(OSError):  # another process is just removing them, or will
                (self._folder / (self._name + suffix)).unlink()

    def __contains__(self, key: str) -> bool:
        return self._counts[key] > 0

    def take(self, key: str, size_bytes: int) -> None:
        """One more lease of `key`, which will hold `size_bytes`. Raises OSError."""
        self._save({**self._reserved, key: max(size_bytes, self._reserved.get(key, 0))})
        self._counts[key] += 1

    def give_back(self, key: str) -> None:
        """One lease of `key` less. Raises ValueError when there is none, and OSError."""
        if key not in self:
            raise ValueError(f"{key} is not leased")
        if self._counts[key] == 1:
            self._save({each: size for each, size in self._reserved.items() if each != key})
        self._counts[key] -= 1

    def all(self) -> dict[str, int]:
        """Every key that a living process needs, and the bytes it will hold. Raises OSError."""
        found = dict(self._reserved)
        for path in sorted(self._folder.glob("*.lock")):
            if path.stem == self._name:
                continue
            for key, size_bytes in self._of_another(path).items():
                found[key] = max(size_bytes, found.get(key, 0))
        return found

    def _of_another(self, path: Path) -> dict[str, int]:
        listed = path.with_suffix(".json")
        lock = lock_file(path)
        try:
            lock.acquire(blocking=False)
        except Timeout:
            return _listed(listed)
        lock.release()
        gone(listed)
        gone(path)
        return {}

    def _save(self, reserved: dict[str, int]) -> None:
        path = self._folder / f"{self._name}.json"
        part = part_path(path)
        try:
            part.write_text(json.dumps(reserved), encoding="ascii")
            part.replace(path)
        finally:
            part.unlink(missing_ok=True)
        self._reserved = reserved


def _listed(path: Path) -> dict[str, int]:
    try:
        data: dict[str, int] = json.loads(path.read_bytes())
    except FileNotFoundError:  # its process is just ending
        return {}
    except ValueError as error:
        what = f"{path} is damaged, so it is not known what another sweeper needs of the store"
        raise StoreError(what, "let the other one finish, or end it") from error
    return data
