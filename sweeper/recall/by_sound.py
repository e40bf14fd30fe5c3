"""A sound file without an id of ours, known again by its samples."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from sweeper.audio import SoundFile, audio_hash, file_hash, inspect
from sweeper.audio.sample_hash import sample_hash
from sweeper.errors import AudioFileError
from sweeper.recall.places import runs_in, sheets_in
from sweeper.recall.prints import printed_variant
from sweeper.records import SHEET_NAME

RENDER_NAME, COPY_NAME = "render.wav", "matched.wav"


@dataclass(frozen=True)
class Known:
    """A sheet that tells of a sound. how: by what it was known, in words."""

    sheet: Path
    how: str


def known_by_sound(file: SoundFile, folders: Sequence[Path]) -> Known | None:
    """The sheet of a file's sound: of a render, of a print, or of a listening copy; None where none is known.

    Of several with the same sound the one that was not itself made again, and the earliest.
    Raises AudioFileError when the file cannot be read.
    """
    samples = sample_hash(file)
    renders = [place for place in sheets_in(folders) if _mentions(place, samples)]
    if renders:
        return Known(min(renders, key=_age), "its sound is that of this sheet; its metadata say nothing")
    if (known := _printed((samples, audio_hash(file), file_hash(file.path)), folders)) is not None:
        return known
    for copy in _copies(file, folders):
        if sample_hash(copy) == samples:
            return Known(copy.path.with_name(SHEET_NAME), "it is the listening copy of this sheet's render")
    return None


def known_print(id: str, folders: Sequence[Path]) -> Known | None:
    """The sheet of a print with an id of ours."""
    return _printed((id,), folders)


def _printed(marks: Sequence[str], folders: Sequence[Path]) -> Known | None:
    for run in runs_in(folders):
        variant = printed_variant(run, marks)
        if variant is not None and (sheet := run / "variants" / variant / SHEET_NAME).is_file():
            return Known(sheet, f"it was printed from variant {variant}")
    return None


def _copies(file: SoundFile, folders: Sequence[Path]) -> Iterator[SoundFile]:
    """The listening copies that are as long and of the same kind."""
    for run in runs_in(folders):
        for path in sorted(run.glob(f"variants/*/{COPY_NAME}")):
            try:
                copy = inspect(path)
            except AudioFileError:  # damaged: it is no sound that anybody has
                continue
            same = copy.frames == file.frames and copy.format.rate_hz == file.format.rate_hz
            if same and copy.format.channels == file.format.channels and path.with_name(SHEET_NAME).is_file():
                yield copy


def _mentions(place: Path, hash: str) -> bool:
    """Whether a sheet is about that sound; what cannot be read is about none."""
    try:
        text = place.read_text("utf-8")
        return hash in text and json.loads(text).get("audio_sha256") == hash
    except (OSError, ValueError, AttributeError):
        return False


def _age(place: Path) -> tuple[bool, str, str]:
    data = json.loads(place.read_text("utf-8"))
    return bool(data.get("parent")), str(data.get("created", "")), str(place)
