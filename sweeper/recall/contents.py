"""What goes into the archive of a run: everything that it takes to make its masters again, but for the plugins."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from sweeper.audio import audio_hash, file_hash, inspect
from sweeper.chain import load_chain
from sweeper.errors import AudioFileError, ChainFileError, RunFolderError, SheetError
from sweeper.recall.by_sound import RENDER_NAME
from sweeper.recall.find import read_sheet
from sweeper.recall.mix import place_of
from sweeper.recall.places import OF_A_RUN
from sweeper.recall.prints import PRINTS
from sweeper.records import Sheet
from sweeper.records.archived import FOLDER, ArchivedFile, Contents, moved_in
from sweeper.render.folder import LOCK_NAME, RUN_NAME
from sweeper.render.outside import SOUND_ENDINGS
from sweeper.table.begun import NOT_KEPT_NAME
from sweeper.version import VERSION

NOT_ARCHIVED = """The sound of this variant is not in the archive.
    sweeper recall recall.json
makes it again.
"""
#: Sound in these folders of a run can be made again.
MADE_AGAIN = ("variants", "mixes", PRINTS, "audition")
README_NAME = "README.txt"
LOSSY_ENDINGS = frozenset({".mp3", ".ogg", ".opus", ".m4a", ".aac"})
REMEDY = "name the file with that music with --mix, once for each; its name and its wrapping do not matter"


@dataclass(frozen=True)
class Piece:
    """One file of the archive. inside: from the run's folder, with forward slashes. content: in place of a source."""

    inside: str
    source: Path | None
    content: bytes = b""

    @property
    def is_sound(self) -> bool:
        """Whether packing it tighter is worth no time."""
        return _is_sound(self.inside)

    @property
    def size_bytes(self) -> int:
        """What it takes unpacked."""
        return len(self.content) if self.source is None else self.source.stat().st_size


@dataclass(frozen=True)
class Packed:
    """Everything that goes in. sheets: by variant. notes: what an engineer should know is not in it."""

    run: Path
    contents: Contents
    pieces: tuple[Piece, ...]
    sheets: dict[str, Sheet] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


def packed(run: Path, mixes: Sequence[Path], with_renders: bool) -> Packed:
    """What the archive of a run holds. mixes: files to look among for mixes that are not where they were.

    with_renders: also the renders that were kept. Raises RunFolderError for a folder without a sheet, SheetError for a
    sheet that cannot be used, AudioFileError for a mix that is nowhere.
    """
    run = run.absolute()
    if not list(run.glob(OF_A_RUN)):
        raise RunFolderError(f"{run} is not the folder of a run: there is no recall sheet in it",
                             "name a folder that a run made in results/, with a variant rendered")  # fmt: skip
    sheets = {place.parent.name: read_sheet(place) for place in sorted(run.glob(OF_A_RUN))}
    own = {piece.inside: piece for piece in _own(run, with_renders)}
    notes: list[str] = []
    files, pieces, chain_folder = _from_elsewhere(run, sheets, _Offered(tuple(mixes)), notes)
    renders = tuple(v for v in sheets if f"variants/{v}/{RENDER_NAME}" in own)
    for variant in sheets:
        name = f"variants/{variant}/{NOT_KEPT_NAME}"
        if variant not in renders and name not in own:
            own[name] = Piece(name, None, NOT_ARCHIVED.encode())
    made = datetime.now().isoformat(timespec="seconds")
    contents = Contents(run.name, made, VERSION, tuple(files), tuple(sheets), renders, chain_folder)
    everything = {**own, **{piece.inside: piece for piece in pieces}}
    _refuse_incomplete(run, sheets, everything)
    return Packed(run, contents, tuple(everything.values()), sheets, tuple(notes))


def _own(run: Path, with_renders: bool) -> Iterator[Piece]:
    """The run's own files, without sound that can be made again."""
    for path in sorted(run.rglob("*")):
        inside = path.relative_to(run).as_posix()
        top = inside.partition("/")[0]
        if not path.is_file() or path.name == LOCK_NAME or path.name.startswith(".") or top == FOLDER:
            continue
        if top == "audition" and path.suffix.lower() != ".json":
            continue  # the page and its copies of the sound: made again from the run
        wanted = with_renders and top == "variants" and path.name == RENDER_NAME
        if wanted or top not in MADE_AGAIN or not _is_sound(path.name):
            yield Piece(inside, path)


def _is_sound(name: str) -> bool:
    return Path(name).suffix.lower() in SOUND_ENDINGS | LOSSY_ENDINGS


class _Offered:
    """Files that were named for mixes, by their sound; each is read when it is first needed."""

    def __init__(self, files: tuple[Path, ...]) -> None:
        self._files = files
        self._known: dict[str, Path] | None = None

    def find(self, audio_sha256: str) -> Path | None:
        """The file with that sound."""
        if self._known is None:
            self._known = {audio_hash(inspect(file)): file for file in self._files}
        return self._known.get(audio_sha256)


def _from_elsewhere(run: Path, sheets: dict[str, Sheet], offered: _Offered,
                    notes: list[str]) -> tuple[list[ArchivedFile], list[Piece], str]:  # fmt: skip
    """The mixes, and what the chain file names beside them; the chain file itself; and the folder that it lay in."""
    files: dict[str, ArchivedFile] = {}
    pieces: list[Piece] = []
    for sheet in sheets.values():
        source = sheet.source
        if not any(f.kind == "mix" and f.audio_sha256 == source.audio_sha256 for f in files.values()):
            path = _mix(sheet, run, offered)
            inside = f"{FOLDER}/mixes/{source.audio_sha256[:8]}-{Path(source.file).name}"
            files[source.file] = ArchivedFile("mix", source.file, inside, source.audio_sha256)
            pieces.append(Piece(inside, path))
    begun = _begun(run)
    if begun is None:
        return list(files.values()), pieces, ""
    chain_file = Path(begun["chain_file"])
    inside = f"{FOLDER}/chain/{chain_file.name}"
    pieces.append(Piece(inside, None, str(begun["chain"]).encode("utf-8")))
    files[str(chain_file)] = ArchivedFile("chain file", str(chain_file), inside)
    for state, sha256 in begun["facts"]["states"].items():
        kept = next(iter((run / "states").glob(f"{sha256}*")), None)
        if kept is not None:
            files[state] = ArchivedFile("state", state, f"states/{kept.name}")
    try:
        chain = load_chain(chain_file, begun["chain"], moved_in(run) | {
            original: run / f.inside for original, f in files.items() if f.kind == "state"})  # fmt: skip
    except ChainFileError as exc:
        notes.append("`sweeper run` cannot go on from the archive, as the chain file names what is not there any more "
                     f"(recall needs nothing of it): {exc.problems[0].what}")  # fmt: skip
        return list(files.values()), pieces, str(chain_file.parent)
    for reference in chain.references:
        inside = f"{FOLDER}/references/{len(pieces):03}-{reference.file.name}"
        files |= {name: ArchivedFile("reference", name, inside) for name in _names(reference.file, run)}
        pieces.append(Piece(inside, reference.file))
    for mix in chain.mixes:
        for name in _names(mix.file, run):
            if name not in files:
                pieces += _another_mix(name, mix.file, files)
    for stage in chain.stages:
        if stage.returned is not None:
            inside = f"{FOLDER}/returned"
            files |= {name: ArchivedFile("return", name, inside) for name in _names(stage.returned, run)}
            pieces += _returned(run, sheets)
    return list(files.values()), pieces, str(chain_file.absolute().parent)


def _names(path: Path, run: Path) -> tuple[str, ...]:
    """The paths that a file of the chain had before it was archived; its own, where it was not."""
    return tuple(original for original, now in moved_in(run).items() if now == path) or (str(path),)


def _another_mix(original: str, path: Path, files: dict[str, ArchivedFile]) -> list[Piece]:
    """A mix that no sheet names by this path: another way of writing it, or one of which nothing came."""
    sound = audio_hash(inspect(path))
    known = next((f for f in files.values() if f.kind == "mix" and f.audio_sha256 == sound), None)
    inside = known.inside if known else f"{FOLDER}/mixes/{sound[:8]}-{path.name}"
    files[original] = ArchivedFile("mix", original, inside, sound)
    return [] if known else [Piece(inside, path)]


def _returned(run: Path, sheets: dict[str, Sheet]) -> list[Piece]:
    """What came back from outside and lies in a folder of the engineer's, where it is there still."""
    came = {Path(each.file) for sheet in sheets.values() for stage in sheet.stages for each in stage.returned}
    came = {file for file in came if not file.is_relative_to(run)} | set((run / FOLDER / "returned").glob("*.*"))
    readme = Piece(f"{FOLDER}/returned/{README_NAME}", None, b"What came back from outside, as it was recorded.\n")
    return [readme, *(Piece(f"{FOLDER}/returned/{file.name}", file) for file in sorted(came)
                      if file.is_file() and file.name != README_NAME)]  # fmt: skip


def _mix(sheet: Sheet, run: Path, offered: _Offered) -> Path:
    """The mix of a sheet, known by its sound. Raises AudioFileError when it is nowhere."""
    source = sheet.source
    path = place_of(source, run)
    if path.is_file() and audio_hash(inspect(path)) == source.audio_sha256:
        return path
    if (other := offered.find(source.audio_sha256)) is not None:
        return other
    what = "is not the music any more" if path.is_file() else "is not there any more"
    raise AudioFileError(f"the mix of variant {sheet.variant}, {source.file}, {what}", REMEDY)


def _refuse_incomplete(run: Path, sheets: dict[str, Sheet], pieces: dict[str, Piece]) -> None:
    """Raises SheetError where a sheet needs what is not among the pieces: what came back from outside."""
    steps = [name for name in pieces if name.startswith("outside/steps/") and name.endswith(".json")]
    for sheet in sheets.values():
        for stage in sheet.stages:
            for came in () if stage.bypass else stage.returned:
                texts = (pieces[name].source for name in steps)
                if not any(came.aligned_sha256 in path.read_text("utf-8") for path in texts if path is not None):
                    raise SheetError(f"variant {sheet.variant}: what came back from '{stage.name}' is not in {run}",
                                     "archive the run that it came back to")  # fmt: skip


def _begun(run: Path) -> dict[str, Any] | None:
    """What run.json says; None for a folder that `recall` made."""
    try:
        data = json.loads((run / RUN_NAME).read_text("utf-8"))
        _ = data["chain_file"], data["chain"], data["facts"]["states"].items()
    except FileNotFoundError:
        return None
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as exc:
        raise RunFolderError(f"{run / RUN_NAME} cannot be used: {exc!r}", "take it from a backup") from exc
    return dict(data)


def missing_states(folder: Path, sheets: dict[str, Sheet]) -> list[str]:
    """State files of sheets that are not in a run's folder as they were, by stage."""
    there = {file_hash(path) for path in (folder / "states").glob("*") if path.is_file()}
    return [f"the state of '{stage.name}' of variant {variant}" for variant, sheet in sheets.items()
            for stage in sheet.stages if stage.state_sha256 and stage.state_sha256 not in there]  # fmt: skip
