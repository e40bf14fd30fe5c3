"""The one lock of a store, and what is said when the store cannot be used."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock, Timeout

from sweeper.errors import StoreError
from sweeper.render.store.place import FOLDER_VARIABLE

LOCK_NAME = "store.lock"
#: It is held for moments; whoever holds it for so long is stopped or hangs.
PATIENCE_S = 60.0
REMEDY = (
    "make room if its disk is full, name another folder in the environment variable "
    f"{FOLDER_VARIABLE}, or keep no steps with --store-limit 0"
)


def lock_file(path: Path) -> FileLock:
    """The system's lock on a file, which ends with the process whatever ends that."""
    return FileLock(path, thread_local=False, fallback_to_soft=False)


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """The store is ours alone in here. Raises StoreError, also for an OSError raised within."""
    with usable(folder):
        folder.mkdir(parents=True, exist_ok=True)
        lock = lock_file(folder / LOCK_NAME)
        try:
            lock.acquire(timeout=PATIENCE_S)
        except Timeout as error:
            what = f"another sweeper has held the store of rendered steps {folder} for over {PATIENCE_S:.0f} s"
            raise StoreError(what, f"end it if it hangs, or {REMEDY}") from error
        try:
            yield
        finally:
            lock.release()


@contextmanager
def usable(folder: Path) -> Iterator[None]:
    """Turns an OSError into a StoreError that says what to do."""
    try:
        yield
    except OSError as error:
        what = f"the store of rendered steps {folder} cannot be used: {error.strerror or error}"
        raise StoreError(what, REMEDY) from error
