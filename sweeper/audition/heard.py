"""What is heard: the variants of a run, the mix they were made from, the references; where the sound of each lies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from pathlib import Path
from typing import Any

from sweeper.chain.kept_files import KeptFiles, kept_files
from sweeper.chain.model import Section
from sweeper.errors import RunFolderError
from sweeper.quantities import Measurements
from sweeper.table.row import Row
from sweeper.table.written import WrittenRun, read_ledger, read_run

#: So many variants of a mix unless they are named: more cannot be held in mind. Ours, no source.
MOST_UNNAMED = 12


class Kind(Enum):
    """What a sound is in the audition."""

    VARIANT = "variant"
    MIX = "mix"
    REFERENCE = "reference"
    PREVIEW = "preview"


@dataclass(frozen=True)
class Found:
    """A sound as the run knows it. file: where its sound is; undo_db: a gain that is in it and not in the original.

    sha256: of the original's samples. measurements: None = it has to be measured. row: a variant's. of: whose preview
    it is, "" = it is none.
    """

    id: str
    kind: Kind
    name: str
    file: Path
    sha256: str
    measurements: Measurements | None
    row: Row | None = None
    undo_db: float = 0.0
    of: str = ""


@dataclass(frozen=True)
class HeardMix:
    """A mix and what is heard beside it: the variants first, then the mix itself, then the references."""

    number: int
    name: str
    sections: tuple[Section, ...]
    sounds: tuple[Found, ...]


@dataclass(frozen=True)
class Heard:
    """What a run has to be heard. match_over: the run's own. left_out: ids of kept variants beyond the first few."""

    run: WrittenRun
    identity: str
    mixes: tuple[HeardMix, ...]
    match_over: tuple[str, ...]
    left_out: tuple[str, ...]


def heard(folder: Path, wanted: Sequence[str] = ()) -> Heard:
    """What is heard of the run in that folder. wanted: ids of variants; () = the first of each mix that are kept.

    Raises RunFolderError when it is no run, has no such variant, or has no sound of it.
    """
    run = read_run(folder)
    _, ledger = read_ledger(folder)
    files = kept_files(run.chain_text, Path(str(ledger["chain_file"])))
    rows = [_row(run, id) for id in dict.fromkeys(wanted)] or [row for row in run.rows if _has_sound(run, row)]
    if not rows:
        raise RunFolderError(f"{run.path} has no sound to hear", "`sweeper recall` makes one again from its sheet")
    mixes, left_out = [], []
    for number, mix in enumerate(files.mixes, 1):
        own = _best_first([row for row in rows if row.mix == mix.written])
        taken = own if wanted else own[:MOST_UNNAMED]
        left_out += [row.id for row in own[len(taken) :]]
        if taken:
            variants = [_variant(run, row) for row in taken]
            beside = _beside(run, ledger, files, number)
            mixes.append(HeardMix(number, Path(mix.written).name, mix.sections, (*variants, *beside)))
    return Heard(run, identity(ledger, run.path), tuple(mixes), files.match_over, tuple(left_out))


def identity(ledger: dict[str, Any], path: Path) -> str:
    """What notes name a run by: the folder's name, for people, and a mark that stays when the folder is renamed."""
    import hashlib

    begun = f"{ledger.get('title')}\n{ledger.get('started')}\n{ledger.get('chain')}"
    return f"{path.absolute().name}#{hashlib.sha256(begun.encode('utf-8')).hexdigest()[:12]}"


def _row(run: WrittenRun, id: str) -> Row:
    by_id = {row.id: row for row in run.rows}
    row = by_id.get(id) or by_id.get(id.zfill(3))
    if row is None:
        some = ", ".join(list(by_id)[:8]) + (" ..." if len(by_id) > 8 else "")
        raise RunFolderError(f"{run.path} has no variant '{id}'", f"it has {some}")
    if not _has_sound(run, row):
        sheet = run.path / "variants" / row.id / "recall.json"
        raise RunFolderError(f"the sound of variant {row.id} is not there: it "
                             + ("was not kept" if row.done else "was not rendered"),
                             f"`sweeper recall {sheet}` makes it again" if row.done else "name another")  # fmt: skip
    return row


def _has_sound(run: WrittenRun, row: Row) -> bool:
    return row.done and "render" in row.files and (run.path / row.files["render"]).is_file()


def _best_first(rows: Sequence[Row]) -> list[Row]:
    return sorted(rows, key=lambda row: (row.rank is None, row.rank or 0, row.id))


def _variant(run: WrittenRun, row: Row) -> Found:
    import json

    try:
        sheet = json.loads((run.path / "variants" / row.id / "recall.json").read_text("utf-8"))
        sha256 = str(sheet["audio_sha256"])
    except (OSError, ValueError, KeyError, TypeError) as exc:
        raise RunFolderError(f"the sheet of variant {row.id} in {run.path} cannot be read: {exc}",
                             "take it from a backup, or leave the variant out") from exc  # fmt: skip
    return Found(row.id, Kind.VARIANT, row.id, run.path / row.files["render"], sha256, row.measurements, row)


def _beside(run: WrittenRun, ledger: dict[str, Any], files: KeptFiles, number: int) -> list[Found]:
    """The mix with that number, and the references; a reference that has gone is left out."""
    answer = ledger.get("answer") or {}
    mix, written = files.mixes[number - 1], run.mixes[number - 1]
    hashes = [str(one["audio_sha256"]) for one in answer["mixes"]]
    name, sha256 = "untouched mix", hashes[number - 1]
    copy = run.path / "mixes" / f"{number}-matched.wav"
    place = next((path for path in (mix.file, Path(written.file)) if path.is_file()), None)
    found = []
    if place is not None:
        found.append(Found(f"mix-{number}", Kind.MIX, name, place, sha256, written.measurements))
    elif copy.is_file():
        undo_db = written.match_gain_db or 0.0
        found.append(Found(f"mix-{number}", Kind.MIX, name, copy, "", written.measurements, undo_db=undo_db))
    for at, (reference, one) in enumerate(zip(files.references, run.references, strict=False), 1):
        place = next((path for path in (reference.file, Path(one.file)) if path.is_file()), None)
        if place is not None:
            found.append(Found(f"reference-{number}-{at}", Kind.REFERENCE, place.name, place,
                               str(answer["references"][at - 1]["audio_sha256"]), one.measurements))  # fmt: skip
    return found
