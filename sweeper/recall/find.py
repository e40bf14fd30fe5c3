"""From a recall sheet, or from a sound file found alone, to the sheet and what lies beside it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from sweeper.audio import inspect
from sweeper.audio.labels import reference_of
from sweeper.audio.sample_hash import sample_hash
from sweeper.errors import AudioFileError, SheetError
from sweeper.records import SHEET_NAME, Sheet

RENDER_NAME = "render.wav"
#: Where the sheets of all runs lie in a results folder.
SHEETS = f"*/variants/*/{SHEET_NAME}"


@dataclass(frozen=True)
class Found:
    """A sheet, and where it lies. sound: the file that led to it, None when the sheet itself was named."""

    sheet: Sheet
    place: Path
    sound: Path | None

    @property
    def run(self) -> Path:
        """The folder of the run that wrote the sheet, while the sheet lies where it was written."""
        return self.place.absolute().parent.parent.parent


def find(path: Path, results: Path) -> Found:
    """The sheet at `path`; for a sound file the one with its id, beside it or in any run under `results`.

    Raises SheetError when there is none or it cannot be used, AudioFileError when the file cannot be read.
    """
    if path.suffix.lower() == ".json" or path.is_dir():
        return Found(read_sheet(path), path, None)
    reference = reference_of(path)
    if not reference:
        raise SheetError(f"{path} holds no id of ours: it does not say which sheet it belongs to",
                         f"name the variant's {SHEET_NAME}, or a WAV file as a run wrote it")  # fmt: skip
    unread: list[str] = []
    for place in (path.absolute().parent / SHEET_NAME, *_sheets(results)):
        if _mentions(place, reference, unread) and (sheet := read_sheet(place)).id == reference:
            return Found(sheet, place, path)
    remedy = f"name the results folder that it came from with --results, or the {SHEET_NAME} itself"
    raise SheetError(f"{path} has the id {reference}, and no sheet with it lies beside it or in {results}",
                     remedy + "".join(f"; {place} cannot be read" for place in unread))  # fmt: skip


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


def _sheets(results: Path) -> Iterator[Path]:
    """The sheets of every run, the latest run by name first."""
    return iter(sorted(results.glob(SHEETS), reverse=True))


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
