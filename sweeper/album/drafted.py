"""A first album file for runs: what was picked of each, in the order in which the runs were named."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from pathlib import Path

from sweeper.album.tracks import picked_ids
from sweeper.chain.alternates import alternates_in
from sweeper.chain.template import note_text, yaml_text
from sweeper.errors import PrintError
from sweeper.render.folder import RUN_NAME
from sweeper.table.row import Row
from sweeper.table.written import WrittenRun, read_run

HEAD = """# An album. Text after # is a note to you. Put the tracks in their order, then
#     sweeper album THIS-FILE     prints every track, joins a proof, writes the sheet of the order
# `sweeper album --help` says what else can stand here.

title: {title}
# artist: NAME
to: [24-bit]              # also disc, flac, ...: sweeper print --to list
gap: 2 s                  # silence after a track
gaps in files: off        # on: as part of each track's file

tracks:
"""


def drafted(runs: Sequence[Path], title: str, beside: Path) -> str:
    """The text of an album file that lies in `beside`. Raises RunFolderError, PrintError for a run without sound."""
    lines = [line for folder in runs for line in _run(read_run(folder), beside)]
    return HEAD.format(title=yaml_text(title)) + "".join(f"{line}\n" for line in lines)


def _run(run: WrittenRun, beside: Path) -> Iterator[str]:
    place = yaml_text(_seen(run.path, beside))
    alternates = alternates_in(run.chain_text, RUN_NAME)
    for mix in dict.fromkeys(row.mix for row in run.rows):
        if mix in alternates:
            yield f"  # {note_text(mix)} has its settings from another mix: it belongs to an album of its own"
            continue
        row, why = _chosen(run, mix)
        yield f"  - run: {place}"
        yield f"    variant: {yaml_text(row.id)}   # {note_text(why)}"
        yield f"    title: {yaml_text(Path(mix).stem)}"
        yield "    # isrc: XX-XXX-26-00001"


def _chosen(run: WrittenRun, mix: str) -> tuple[Row, str]:
    """The variant of a mix that was picked; else the first of those that have their sound, by rank."""
    there = [row for row in run.rows
             if row.mix == mix and "render" in row.files and (run.path / row.files["render"]).is_file()]  # fmt: skip
    if not there:
        raise PrintError(f"{run.path.name} has no sound file of {Path(mix).name}",
                         "run its chain file again, or leave the run out")  # fmt: skip
    kept = set(picked_ids(run))
    picked = [row for row in there if row.id in kept]
    if picked:
        others = f"; also {', '.join(row.id for row in picked[1:])}" if len(picked) > 1 else ""
        return picked[0], f"picked to keep{others}"
    first = min(there, key=lambda row: (row.rank is None, row.rank or 0, row.id))
    return first, "nothing was picked: the first by rank" if first.rank else "nothing was picked: the first"


def _seen(path: Path, beside: Path) -> str:
    try:
        return Path(os.path.relpath(path.absolute(), beside.absolute())).as_posix()
    except ValueError:  # on another drive
        return str(path.absolute())
