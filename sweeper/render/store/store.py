"""The store of rendered steps: bounded, shared by all runs of a user, kept between them."""

from __future__ import annotations

from pathlib import Path

from sweeper.render.store import contents
from sweeper.render.store.contents import Found, gone
from sweeper.render.store.entry import whole
from sweeper.render.store.leases import LEASES_NAME, Leases
from sweeper.render.store.lock import locked, usable
from sweeper.render.store.place import README, README_NAME, json_path, wav_path
from sweeper.render.store.uses import Uses


class Store:
    """The store as the parent process sees it. A context manager; leaving it ends every lease.

    With a limit of 0 it is always empty, takes nothing, and the folder is neither made nor looked at.
    Methods raise StoreError when the folder cannot be used, ValueError for what is no key.
    """

    def __init__(self, folder: Path, limit_bytes: int) -> None:
        """limit_bytes: what all entries together may take, those included that are still to be written."""
        self.folder = folder.absolute()
        self.limit_bytes = limit_bytes
        self._leases = Leases(self.folder)
        self._uses = Uses(self.folder)

    def __enter__(self) -> Store:
        """Opens it, clears away what dead processes left half-written, and keeps to the limit."""
        if self.limit_bytes:
            with locked(self.folder):
                self._open()
        return self

    def _open(self) -> None:
        readme = self.folder / README_NAME
        if not readme.exists():
            readme.write_text(README, encoding="utf-8")
        try:
            self._leases.open()
            self._sweep()
            self._make_room(0)
        except BaseException:
            self._leases.close()
            raise

    def __exit__(self, *_: object) -> None:
        if self.limit_bytes:
            self._leases.close()

    def has(self, key: str) -> bool:
        """Whether the entry is there, judged by its description and its length; its samples are not looked at."""
        return bool(self.limit_bytes) and whole(self.folder, key)

    def bytes_of(self, key: str) -> int:
        """What the entry takes on the disk, 0 when it is not there."""
        paths = wav_path(self.folder, key), json_path(self.folder, key)
        with usable(self.folder):
            return sum(path.stat().st_size for path in paths) if self.has(key) else 0

    def total_bytes(self) -> int:
        """What all entries take on the disk; parts being written are not counted."""
        with usable(self.folder):
            return sum(each.bytes for each in self._found().values())

    def claim(self, key: str) -> bool:
        """Lease an entry for this process and mark it as just used; False when it is not there.

        Leases are counted: as many calls of `release` end them.
        """
        if not self.limit_bytes:
            return False
        with locked(self.folder):
            if not self.has(key):
                return False
            self._leases.take(key, 0)
            self._uses.mark(key)
            return True

    def reserve(self, key: str, size_bytes: int) -> bool:
        """Lease a key that is to be written, and make room: least recently used entries go that nobody leases.

        False, and no lease, when it cannot fit; then nothing goes either, unless a file turns out to be in use.
        An entry that is there already is leased as `claim` does.
        """
        if not self.limit_bytes:
            return False
        with locked(self.folder):
            if not self.has(key):
                self._remove(key)
                if not self._make_room(size_bytes, key):
                    return False
            self._leases.take(key, size_bytes)
            self._uses.mark(key)
            return True

    def release(self, key: str) -> None:
        """One lease of `key` ends; it counts as used until now. Raises ValueError when there is none.

        With the last one what a worker that was killed left half-written goes.
        """
        if key not in self._leases:
            raise ValueError(f"{key} is not leased")
        with locked(self.folder):
            self._leases.give_back(key)
            if key not in self._leases.all():
                for path in contents.parts_of(self.folder, key):
                    gone(path)
            if self.has(key):
                self._uses.mark(key)

    def discard(self, key: str) -> bool:
        """Remove an entry that is damaged, leased or not. A lease of ours stays until it is released.

        False when it could not be removed and so would be found again: do not claim or reserve it then.
        """
        if not self.limit_bytes:
            return True
        with locked(self.folder):
            gone(json_path(self.folder, key))  # first: without it the entry is not there
            gone(wav_path(self.folder, key))
            return not self.has(key)

    def _found(self) -> dict[str, Found]:
        return contents.entries(self.folder) if self.limit_bytes else {}

    def _sweep(self) -> None:
        """Remove halves of entries and unfinished files, except those that a living process may be writing."""
        leased, found = self._leases.all(), self._found()
        for key, path in contents.parts(self.folder):
            if key not in leased:
                gone(path)
        for folder in (self.folder, self.folder / LEASES_NAME):
            for path in folder.glob(".*.part-*"):  # of a list; those are written under the lock that we hold
                gone(path)
        for key, each in found.items():
            if not each.whole:
                self._remove(key)
        uses = self._uses.read(found)
        self._uses.write({key: use for key, use in uses.items() if key in leased or key in found})

    def _make_room(self, size_bytes: int, key: str = "") -> bool:
        """Evict until `size_bytes` for `key` fit beside what there is and what is promised for other keys."""
        found, leased = self._found(), self._leases.all()
        promised = {**leased, key: max(size_bytes, leased.get(key, 0))}
        room = self.limit_bytes - sum(size for each, size in promised.items() if each not in found)
        held = sum(each.bytes for each in found.values())
        free = {each: found[each].bytes for each in found if each not in leased}
        if held - sum(free.values()) > room:
            return False
        uses = self._uses.read(found)
        for each in sorted(free, key=lambda each: (uses[each], each)):
            if held <= room:
                break
            if self._remove(each):
                held -= free[each]
        return held <= room

    def _remove(self, key: str) -> bool:
        """The samples go first: while they are in use (Windows), the entry stays whole."""
        return gone(wav_path(self.folder, key)) and gone(json_path(self.folder, key))
