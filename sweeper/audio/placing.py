"""Files that appear whole or not at all, and never over another one."""

from __future__ import annotations

import errno
import os
import secrets
import sys
from pathlib import Path

from sweeper.errors import RunFolderError

#: What a file system answers that knows no second name for a file (exFAT, some network disks).
NO_LINKS = {errno.EPERM, errno.EOPNOTSUPP, errno.ENOTSUP, errno.ENOSYS, errno.EMLINK}
ANOTHER_NAME = "move it away or give the new one another name"


def part_path(path: Path) -> Path:
    """A name of its own beside `path`, hidden where a dot hides, for the file while it is written."""
    return path.with_name(f".{path.name}.part-{os.getpid()}-{secrets.token_hex(4)}")


def write_lasting(path: Path, content: bytes) -> None:
    """Write a file and wait until the disk has it, so that it outlives a power cut. Raises OSError."""
    with path.open("wb") as handle:
        handle.write(content)
        handle.flush()
        os.fsync(handle.fileno())


def replace_text(path: Path, text: str) -> None:
    """Write a text file beside its place, wait for the disk, rename it; one of that name is replaced.

    Raises OSError when the disk refuses; then nothing of it is left.
    """
    part = part_path(path)
    try:
        write_lasting(part, text.encode("utf-8"))
        part.replace(path)
    except OSError:
        part.unlink(missing_ok=True)
        raise


def place_text(path: Path, text: str, if_taken: str = ANOTHER_NAME) -> None:
    """Write a text file beside its place, wait for the disk, give it its name; one of that name is never replaced.

    if_taken: what to do where the name is taken. Raises RunFolderError then, and when the disk refuses; nothing of it
    is left, so that it can be written again. Lines end as they do in `text`.
    """
    part = part_path(path)
    try:
        refuse_taken(path, if_taken)
        try:
            with part.open("x", encoding="utf-8", newline="") as handle:
                handle.write(text)
                handle.flush()
                os.fsync(handle.fileno())
            place(part, path, if_taken)
        finally:
            part.unlink(missing_ok=True)
    except OSError as error:
        raise unwritable(path, error) from error


def refuse_taken(path: Path, if_taken: str = ANOTHER_NAME) -> None:
    """Raises RunFolderError, with `if_taken` as what to do, when something, be it a dangling link, has that name."""
    if os.path.lexists(path):
        raise RunFolderError(f"{path} is there already, and nothing is ever overwritten", if_taken)


def place(part: Path, path: Path, if_taken: str = ANOTHER_NAME) -> None:
    """Give the finished file its name, in one step, refusing to replace another; if_taken as in `place_text`.

    Raises OSError, and RunFolderError when the name is taken.
    Windows refuses by itself. Elsewhere a second name is made, which fails when the name is taken, and the
    first one removed; a disk without second names leaves a moment between the look and the renaming.
    """
    refuse_taken(path, if_taken)
    try:
        if sys.platform == "win32":
            part.rename(path)
            return
        _link(part, path)
    except FileExistsError:
        refuse_taken(path, if_taken)
        raise


def _link(part: Path, path: Path) -> None:
    try:
        path.hardlink_to(part)
    except OSError as error:
        if error.errno not in NO_LINKS:
            raise
        part.replace(path)
    else:
        part.unlink()


def unwritable(path: Path, error: OSError) -> RunFolderError:
    """Why the system did not let us write, in words."""
    folder = path.parent
    elsewhere = "choose a folder that you can write to"
    reasons = {
        errno.ENOSPC: (f"the disk with {folder} is full", "make room on it, or choose another folder"),
        errno.EDQUOT: (f"your share of the disk with {folder} is used up", "make room on it"),
        errno.EFBIG: (
            f"the disk with {folder} does not take a file this large",
            "FAT32 stops at 4 GB: use a disk formatted as APFS, NTFS, exFAT or ext4",
        ),
        errno.EROFS: (f"the disk with {folder} is read-only", elsewhere),
        errno.EACCES: (f"you have no permission to write in {folder}", elsewhere),
        errno.EPERM: (f"you have no permission to write in {folder}", elsewhere),
        errno.ENOENT: (f"the folder {folder} is not there (any more)", "make it, or connect the disk again"),
        errno.ENOTDIR: (f"{folder} is not a folder", "choose a folder"),
        errno.ENAMETOOLONG: ("the name is too long for the disk", "choose a shorter one"),
    }
    otherwise = (f"it cannot be written ({error.strerror or error})", "check the disk, or choose another")
    what, remedy = reasons.get(error.errno or 0, otherwise)
    return RunFolderError(f"{path}: {what}", remedy)
