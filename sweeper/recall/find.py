"""From a recall sheet, or from a sound file found alone, to the sheet and what lies beside it."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sweeper.audio import inspect
from sweeper.audio.labels import reference_of
from sweeper.audio.sample_hash import sample_hash
from sweeper.errors import AudioFileError, SheetError
from sweeper.recall.albums import proof_of
from sweeper.recall.by_sound import RENDER_NAME, Known, known_by_sound, known_print
from sweeper.recall.places import sheets_in
from sweeper.records import SHEET_NAME, Sheet

SEVERAL_NAMED = 6


@dataclass(frozen=True)
class Found:
    """A sheet, and where it lies. sound: the file that led to it, None when the sheet itself was named.

    how: in what way the file led to it, where that was not by its id.
    """

    sheet: Sheet
    place: Path
    sound: Path | None
    how: str = ""

    @property
    def run(self) -> Path:
        """The folder of the run that wrote the sheet, while the sheet lies where it was written."""
        return self.place.absolute().parent.parent.parent


def find(path: Path, results: Path, also: Sequence[Path] = ()) -> Found:
    """The sheet at `path`, or in the folder of a variant or run; for a sound file the one with its id, or of its sound.

    It is looked for beside the file, in every run under `results`, and under `also`: results folders, runs, unpacked
    archives. Raises SheetError when there is none or it cannot be used, AudioFileError when the file cannot be read.
    """
    if path.is_dir():
        place = _in_folder(path)
        return Found(read_sheet(place), place, None)
    if path.suffix.lower() == ".json":
        return Found(read_sheet(path), path, None)
    folders = (results, *also)
    reference = reference_of(path)
    unread: list[str] = []
    if reference:
        for place in (path.absolute().parent / SHEET_NAME, *sheets_in(folders)):
            if _mentions(place, reference, unread) and (sheet := read_sheet(place)).id == reference:
                return Found(sheet, place, path)
        if (known := known_print(reference, folders)) is not None:
            return Found(read_sheet(known.sheet), known.sheet, path, known.how)
    if (known := _by_sound(path, folders)) is not None:
        return Found(read_sheet(known.sheet), known.sheet, path, known.how)
    if path.is_file() and (album := proof_of(path, (path.absolute().parent, *folders))) is not None:
        raise SheetError(f"{path} is the proof of the album '{album.title}', joined of several masters", album.remedy)
    looked = " or ".join(map(str, folders))
    if not reference:
        raise SheetError(f"{path} holds no id of ours, and nothing in {looked} is known to sound like it",
                         f"name the variant's {SHEET_NAME}, or where its run or archive lies with --look-in")
    remedy = (f"name the results folder or the archive that it came from with --results or --look-in, or the "
              f"{SHEET_NAME} itself")  # fmt: skip
    raise SheetError(f"{path} has the id {reference}, and no sheet with it lies beside it or in {looked}",
                     remedy + "".join(f"; {place} cannot be read" for place in unread))  # fmt: skip


def _by_sound(path: Path, folders: Sequence[Path]) -> Known | None:
    try:
        return known_by_sound(inspect(path), folders)
    except AudioFileError:
        if not path.is_file():
            raise
        return None  # no sound at all: what is said is that it has no id either


def _in_folder(folder: Path) -> Path:
    """The sheet of a variant's folder, or of a run with a single one. Raises SheetError."""
    if (own := folder / SHEET_NAME).is_file():
        return own
    found = list(sheets_in([folder]))
    if len(found) == 1:
        return found[0]
    named = ", ".join(str(place.parent.relative_to(folder)) for place in sorted(found)[:SEVERAL_NAMED])
    more = ", ..." if len(found) > SEVERAL_NAMED else ""
    raise SheetError(f"{folder}: this is a folder with {len(found) or 'no'} recall sheets",
                     f"name one of them: {named}{more}" if found else f"name the {SHEET_NAME} of a variant")


def read_sheet(path: Path) -> Sheet:
    """The recall sheet at `path`. Raises SheetError."""
    try:
        data = json.loads(path.read_bytes())
    except FileNotFoundError as exc:
        raise SheetError(f"{path}: there is no such file", f"name a {SHEET_NAME} or a sound file of a run") from exc
    except IsADirectoryError as exc:
        raise SheetError(f"{path}: this is a folder", f"name the {SHEET_NAME} inside it") from exc
    except OSError as exc:
        raise SheetError(f"{path} cannot be read: {exc.strerror or exc}", "check who may read it") from exc
    except (ValueError, RecursionError) as exc:
        raise SheetError(f"{path}: this is not a recall sheet", f"name the {SHEET_NAME} of a variant") from exc
    return Sheet.from_data(data, str(path))


def _mentions(place: Path, id: str, unread: list[str]) -> bool:
    """Whether the id stands in the file at all; one that cannot be read is noted."""
    try:
        return place.is_file() and id.encode() in place.read_bytes()
    except OSError:
        unread.append(str(place))
        return False


def old_render(found: Found) -> tuple[Path | None, tuple[str, ...]]:
    """The render that the sheet is about, if it is still there as it was; and what became of it otherwise, in words."""
    beside = found.place.absolute().parent / RENDER_NAME
    notes: list[str] = []
    if beside.is_file():
        if _is_it(beside, found.sheet.audio_sha256):
            return beside, ()
        notes.append(f"{beside} no longer holds what its sheet says: it was changed after the run")
    if found.sound is not None and found.sound.absolute() != beside:
        if _is_it(found.sound, found.sheet.audio_sha256):
            return found.sound, tuple(notes)
        notes.append(f"{found.sound} is not the render itself: a copy at another level, or edited since")
    return None, tuple(notes)


def _is_it(path: Path, audio_sha256: str) -> bool:
    try:
        return sample_hash(inspect(path)) == audio_sha256
    except AudioFileError:  # damaged, so it is not what the sheet tells of
        return False
