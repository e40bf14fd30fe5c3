"""An album file from its path to a checked `Album`; every fault of the file is told at once."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path

from sweeper.chain.album_model import GAP_S, Album, Track
from sweeper.chain.decode import read_text
from sweeper.chain.document import Node, read_document
from sweeper.chain.faults import Faults
from sweeper.chain.file_names import read_pattern
from sweeper.chain.lengths import read_length_s
from sweeper.chain.mixes import find_folder
from sweeper.chain.nearest import quoted
from sweeper.chain.other_files import retold
from sweeper.chain.print_specs import find_spec
from sweeper.chain.prints import EDITS, read_edits, read_isrc, read_label, read_specs
from sweeper.chain.shapes import Field, fields, listed, single
from sweeper.chain.values import read_amount, read_switch
from sweeper.errors import ChainFileError

#: What is printed where nothing is asked for.
USUAL = "24-bit"
LONGEST_GAP_S = 60.0
MOST_LEVEL_DB = 24.0
#: A compact disc holds no more (IEC 60908, from memory).
MOST_TRACKS = 99
BEGIN = "begin with title: NAME; `sweeper album --write FILE RUN` writes a whole one"


def load_album(path: Path) -> Album:
    """The album that a file describes.

    path: the album file; paths in it resolve from its folder. The folders of runs must be there; what is in them is not
    looked at. Raises ChainFileError with every fault of the file, each at its line and column.
    """
    faults = Faults(str(path))
    text = read_text(path, faults)
    document = read_document(text, faults) if text is not None else None
    if document is not None and document.pairs is None:
        faults.add(document.mark, f"the album file is {document.kind}, not a mapping", BEGIN)
    whole = document is not None and document.pairs is not None
    album = _album(path, text or "", document, faults) if document is not None and whole else None
    if album is None or faults:
        raise ChainFileError([retold(problem, "album file", BEGIN) for problem in faults.problems])
    return album


def _album(path: Path, text: str, document: Node, faults: Faults) -> Album:
    known = fields(document, "album file", "the album file", faults)
    folder = path.absolute().parent
    for key in ("title", "tracks"):
        if key not in known:
            faults.add(document.mark, f"the album has no {key}", f"add {key}: ...")
    tracks = _tracks(known["tracks"], folder, faults) if "tracks" in known else ()
    to = read_specs(known["to"].value, folder, faults) if "to" in known else (find_spec(USUAL, folder),)
    if to and all(spec.lossy for spec in to):
        faults.add(known["to"].mark, "nothing here is without loss, and the proof is made of what the client gets",
                   f"add {USUAL} in front")  # fmt: skip
    gap_s = _gap_s(known, faults)
    return Album(path, text, read_label(known, "title", faults), read_label(known, "artist", faults), to,
                 read_pattern(known["name"], faults) if "name" in known else None,
                 GAP_S if gap_s is None else gap_s, _in_files(known, faults), tracks)  # fmt: skip


def _in_files(known: Mapping[str, Field], faults: Faults) -> bool:
    return "gaps in files" in known and bool(read_switch(known["gaps in files"].value, "gaps in files", faults))


def _gap_s(known: Mapping[str, Field], faults: Faults) -> float | None:
    return read_length_s(known["gap"].value, "gap", LONGEST_GAP_S, faults) if "gap" in known else None


def _tracks(field: Field, folder: Path, faults: Faults) -> tuple[Track, ...]:
    items = listed(field.value, "tracks", faults)
    if not items:
        faults.add(field.mark, "the album has no tracks", "add - run: FOLDER for each, in their order")
    if len(items) > MOST_TRACKS:
        faults.add(field.mark, f"the album has {len(items)} tracks", f"{MOST_TRACKS} are the most")
    found = []
    for number, item in enumerate(items, 1):
        known = fields(item, "track", "a track", faults)
        track = _track(item, known, folder, faults)
        if number == len(items) and "gap" in known:
            faults.add(known["gap"].mark, "nothing follows the last track", "take 'gap' out")
        found += [track] if track is not None else []
    _once_each(found, faults)
    return tuple(found)


def _track(item: Node, known: Mapping[str, Field], folder: Path, faults: Faults) -> Track | None:
    if "run" not in known:
        if item.pairs is not None:
            faults.add(item.mark, "this track names no run", "add run: FOLDER, as `sweeper run` printed it")
        return None
    place = find_folder(known["run"].value, "run", folder, faults)
    if "mix" in known and "variant" in known:
        faults.add(known["mix"].mark, "a variant is of one mix already", "take 'mix' out")
    isrc = read_isrc(known, faults)
    title, artist = (read_label(known, key, faults) for key in ("title", "artist"))
    gap_s, level_db = _gap_s(known, faults), _level_db(known, faults)
    edits = read_edits(known, faults) if any(key in known for key in EDITS) else None
    variant, mix = _text(known, "variant", faults), _text(known, "mix", faults)
    if place is None:
        return None
    run = known["run"].value
    return Track(place, run.text or "", run.mark, variant, mix, title, artist, isrc, gap_s, level_db, edits)


def _text(known: Mapping[str, Field], key: str, faults: Faults) -> str:
    return (single(known[key].value, key, faults) or "") if key in known else ""


def _level_db(known: Mapping[str, Field], faults: Faults) -> float:
    level_db = read_amount(known["level"].value, "level", "dB", faults) if "level" in known else None
    if level_db is not None and not (math.isfinite(level_db) and abs(level_db) <= MOST_LEVEL_DB):
        faults.add(known["level"].value.mark, f"level is {level_db:g} dB", f"write {MOST_LEVEL_DB:g} dB at most")
    return level_db or 0.0


def _once_each(tracks: list[Track], faults: Faults) -> None:
    """An ISRC belongs to one recording (ISO 3901), and a variant is on the album once."""
    codes: dict[str, Track] = {}
    sounds: dict[tuple[Path, str, str], Track] = {}
    for track in tracks:
        first = codes.setdefault(track.isrc, track) if track.isrc else track
        if first is not track:
            faults.add(track.mark, f"this track has the ISRC of the one on line {first.mark.line}",
                       "each recording has its own")  # fmt: skip
        same = sounds.setdefault((track.run.resolve(), track.variant.lstrip("0"), track.mix), track)
        if same is not track:
            faults.add(track.mark, f"this is the track on line {same.mark.line} again: {quoted(track.written)}",
                       "name another variant, or take one out")  # fmt: skip
