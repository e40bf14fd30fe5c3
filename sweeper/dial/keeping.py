"""What was dialled, kept: a new state file, the chain file with it, and a copy of what the chain file was."""

from __future__ import annotations

import itertools
import re
import shutil
from pathlib import Path

from sweeper.audio.placing import part_path, place, write_lasting
from sweeper.chain.decode import ORDER_MARKS
from sweeper.chain.model import Chain, Stage
from sweeper.chain.rewriting import NewValues, rewritten
from sweeper.errors import ChainFileError, Problem, RunFolderError

STATES = "states"
#: What file systems do not take in a name (Windows is the strictest), and dots and spaces at its ends.
_UNFIT = re.compile(r'[<>:"/\\|?*\x00-\x1f\x7f]+')
#: Names that Windows keeps for devices.
_DEVICES = re.compile(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?")


def keep_state(chain: Chain, stage: Stage, state: bytes) -> Path:
    """Write states/STAGE[-LABEL].vstpreset beside the chain file, numbered where that is taken; returns its path.

    Raises RunFolderError when it cannot be written.
    """
    folder = chain.path.parent / STATES
    name = file_name("-".join(part for part in (stage.name, stage.label) if part))
    try:
        folder.mkdir(exist_ok=True)
        return _new_file(folder / f"{name}.vstpreset", state)
    except OSError as exc:
        raise RunFolderError(f"cannot write into {folder}: {exc.strerror or exc}", "check the disk") from exc


def file_name(text: str) -> str:
    """The text as a file name that every system takes."""
    name = _UNFIT.sub("-", text).strip(" .") or "stage"
    return f"{name}-" if _DEVICES.fullmatch(name) else name


def rewrite(chain: Chain, stage: Stage, state: Path, values: NewValues) -> Path:
    """Put the state and the values into the chain file; returns the copy of what it was, beside it.

    Raises ChainFileError when the file has changed since it was read, or cannot be changed so that only this is
    different; RunFolderError when the disk refuses. Then it is as it was.
    """
    file = chain.path.resolve()
    written = f"{STATES}/{state.name}"
    text = rewritten(chain, stage, written, values)
    try:
        old = file.read_bytes()
        mark, encoding = next(((m, e) for m, e in ORDER_MARKS if old.startswith(m)), (b"", "utf-8"))
        if old != mark + chain.text.encode(encoding):
            raise ChainFileError([Problem(str(chain.path), 0, 0, "has changed since its window was opened",
                                          f"write into '{stage.name}' by hand: state: {written}")])  # fmt: skip
        copy = _new_file(file.with_name(f"{file.stem}.before-dial{file.suffix}"), old)
        part = part_path(file)
        try:
            write_lasting(part, mark + text.encode(encoding))
            shutil.copymode(file, part)
            part.replace(file)
        finally:
            part.unlink(missing_ok=True)
    except OSError as exc:
        raise RunFolderError(f"cannot write {chain.path}: {exc.strerror or exc}",
                             f"write into '{stage.name}' by hand: state: {written}") from exc  # fmt: skip
    return copy if chain.path.is_symlink() else chain.path.with_name(copy.name)


def _new_file(path: Path, content: bytes) -> Path:
    """Write a file that was not there, with a number behind its name where it is taken: whole, or nothing of it."""
    part = part_path(path)
    try:
        write_lasting(part, content)
        for number in itertools.count(1):
            numbered = path if number == 1 else path.with_name(f"{path.stem}-{number}{path.suffix}")
            try:
                place(part, numbered)
            except RunFolderError:  # the name is taken
                continue
            return numbered
    finally:
        part.unlink(missing_ok=True)
    raise AssertionError("numbers do not end")
