"""A run in one file, written whole or not at all, and looked at again by unpacking it elsewhere.

    RUN/                       the run's folder, as `sweeper recall` and `sweeper run` know it
    RUN/archive/contents.json  what of it lay elsewhere, and where it is now
    RUN/archive/mixes/         the mixes; beside them references/, returned/ and the chain file
    RUN/archive/checksums.txt  SHA-256 of every file, as `sha256sum -c` reads them
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import os
import shutil
import time
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import psutil

from sweeper.audio import audio_hash, file_hash, inspect
from sweeper.audio.placing import part_path, place, refuse_taken, unwritable
from sweeper.errors import RunFolderError
from sweeper.recall.contents import Packed, Piece, missing_states
from sweeper.records.archived import CONTENTS_NAME, FOLDER

CHECKSUMS_NAME = f"{FOLDER}/checksums.txt"
README_NAME = f"{FOLDER}/README.txt"
README = """The run {run} with everything that it takes to make its masters again, but for the plugins.

Unpack it anywhere. Then, in the folder where this archive was unpacked:
    sweeper recall {run}/variants/{variant}
    sweeper recall "a file found alone.wav" --look-in .
    sweeper run {run}
The mixes lie in archive/mixes. archive/checksums.txt holds the SHA-256 of every file; in the run's folder
    sha256sum -c archive/checksums.txt
holds them against it.
"""
COPY_BYTES = 1 << 20
IF_TAKEN = "name another file"
Progress = Callable[[str], None]


@dataclass(frozen=True)
class Archived:
    """An archive that was written and looked at. bytes: of the file; unpacked_bytes: of what is in it."""

    path: Path
    files: int
    bytes: int
    unpacked_bytes: int


@contextmanager
def archived(packed: Packed, target: Path, progress: Progress) -> Iterator[tuple[Archived, Path]]:
    """Write the archive beside its place and unpack it into a folder that is gone afterwards; then look at all of it.

    Gives what was written, and the unpacked run's folder. The file gets its name when the block ends without an error:
    what fails, or is killed, leaves nothing of that name. progress: is told what is being done.
    Raises RunFolderError when the name is taken, or the disk refuses, or what was unpacked is not what was packed.
    """
    refuse_taken(target, IF_TAKEN)
    _clear(target)
    _refuse_full(packed, target)
    part = part_path(target)
    try:
        progress("packing")
        _write(packed, part)
        with TemporaryDirectory(prefix=f".{target.stem}.unpacked-", dir=target.absolute().parent,
                                ignore_cleanup_errors=True) as folder:  # fmt: skip
            progress("unpacking it elsewhere")
            with zipfile.ZipFile(part) as file:
                file.extractall(folder)
            run = Path(folder) / packed.run.name
            progress("looking at what was unpacked")
            sizes = [each.stat().st_size for each in run.rglob("*") if each.is_file()]
            _refuse_altered(packed, run)
            yield Archived(target, len(sizes), part.stat().st_size, sum(sizes)), run
        place(part, target, IF_TAKEN)
    except OSError as exc:
        raise unwritable(target, exc) from exc
    finally:
        part.unlink(missing_ok=True)


def _write(packed: Packed, part: Path) -> None:
    """The file, with the checksums of what was read while it was packed."""
    variant = next(iter(packed.contents.renders or packed.contents.variants))
    texts = {CONTENTS_NAME: json.dumps(dataclasses.asdict(packed.contents), indent=2, ensure_ascii=False) + "\n",
             README_NAME: README.format(run=packed.run.name, variant=variant)}  # fmt: skip
    pieces = (*packed.pieces, *(Piece(name, None, text.encode("utf-8")) for name, text in texts.items()))
    sums: dict[str, str] = {}
    with zipfile.ZipFile(part, "x", allowZip64=True) as file:
        for piece in pieces:
            sums[piece.inside] = _put(file, piece, packed.run.name)
        lines = "".join(f"{sha256}  {name}\n" for name, sha256 in sorted(sums.items()))
        _put(file, Piece(CHECKSUMS_NAME, None, lines.encode("utf-8")), packed.run.name)
    with part.open("rb+") as handle:
        os.fsync(handle.fileno())


def _put(file: zipfile.ZipFile, piece: Piece, top: str) -> str:
    """Put one file in, and give its hash."""
    name = f"{top}/{piece.inside}"
    info = zipfile.ZipInfo(name, time.localtime()[:6]) if piece.source is None else zipfile.ZipInfo.from_file(
        piece.source, name, strict_timestamps=False)  # fmt: skip
    info.compress_type = zipfile.ZIP_STORED if piece.is_sound else zipfile.ZIP_DEFLATED
    if piece.source is None:
        info.external_attr = 0o644 << 16
        file.writestr(info, piece.content)
        return hashlib.sha256(piece.content).hexdigest()
    digest = hashlib.sha256()
    with piece.source.open("rb") as source, file.open(info, "w", force_zip64=True) as target:
        while block := source.read(COPY_BYTES):
            digest.update(block)
            target.write(block)
    return digest.hexdigest()


def _refuse_altered(packed: Packed, run: Path) -> None:
    """Raises RunFolderError where what was unpacked is not what its list says, or lacks what its sheets need."""
    lines = (run / CHECKSUMS_NAME).read_text("utf-8").splitlines()
    listed = {name: sha256 for sha256, _, name in (line.partition("  ") for line in lines)}
    there = {each.relative_to(run).as_posix() for each in run.rglob("*") if each.is_file()} - {CHECKSUMS_NAME}
    faults = [f"{name} is missing" for name in sorted(listed.keys() - there)]
    faults += [f"{name} is not in the list" for name in sorted(there - listed.keys())]
    faults += [f"{name} is altered" for name in sorted(listed.keys() & there) if file_hash(run / name) != listed[name]]
    faults += [f"{what} is missing" for what in missing_states(run, packed.sheets)]
    for file in packed.contents.files:
        if file.kind == "mix" and not faults and audio_hash(inspect(run / file.inside)) != file.audio_sha256:
            faults.append(f"{file.inside} changed while it was packed")
    if faults:
        raise RunFolderError(f"the archive was written, and what comes out of it is not what went in: {faults[0]}"
                             + (f", and {len(faults) - 1} more" if len(faults) > 1 else ""),
                             "nothing was kept of it; check the disk, and that nothing is at work in the run")


def _refuse_full(packed: Packed, target: Path) -> None:
    """It takes its size twice while it is looked at."""
    folder = target.absolute().parent
    wanted = 2 * sum(piece.size_bytes for piece in packed.pieces)
    try:
        free = shutil.disk_usage(folder).free
    except OSError as exc:
        raise unwritable(target, exc) from exc
    if wanted > free:
        raise RunFolderError(f"the archive takes up to {wanted / 1e9:.1f} GB in {folder} while it is written and "
                             f"unpacked to be looked at, and {free / 1e9:.1f} GB are free",
                             "make room, or name another disk")  # fmt: skip


def _clear(target: Path) -> None:
    """Remove what an earlier attempt at the same file left when it was killed."""
    for left in target.absolute().parent.glob(f".{target.name}.part-*"):
        number = left.name.rpartition(".part-")[2].partition("-")[0]
        if number.isdigit() and not psutil.pid_exists(int(number)):
            left.unlink(missing_ok=True)
