"""The listening copies to write of the variants that keep their sound, and the others without it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from sweeper.audio import BroadcastTag
from sweeper.errors import RunFolderError
from sweeper.render.folder import RunFolder
from sweeper.render.jobs import tag_of
from sweeper.render.matching import Copy
from sweeper.render.orders import Measured
from sweeper.render.writing import write_whole
from sweeper.table.begun import NOT_KEPT_NAME
from sweeper.table.row import Row

NOT_KEPT = """The sound of this variant was not kept: `audition: {keep: N}` of the chain file keeps the best.
    sweeper recall recall.json
makes it again.
"""


def thin(folder: RunFolder, rows: Sequence[Row]) -> None:
    """Remove the sound of the variants that are not kept; a note of it comes first. Raises RunFolderError."""
    for row in rows:
        if row.done and not row.kept:
            place = folder.path / "variants" / row.id
            write_whole(place / NOT_KEPT_NAME, NOT_KEPT)
            for name in ("render.wav", "matched.wav"):
                removed(place / name)


def removed(path: Path) -> None:
    """Remove a file that this run made, if it is there. Raises RunFolderError when the system refuses."""
    try:
        path.unlink(missing_ok=True)
    except OSError as exc:
        raise RunFolderError(f"cannot remove {path}: {exc.strerror or exc}",
                             "close what plays it, and run the folder again") from exc  # fmt: skip


def copies(folder: RunFolder, rows: Sequence[Row], mixes: Sequence[Measured], mix_gains: Sequence[float | None],
           now: datetime) -> list[Copy]:  # fmt: skip
    """The listening copies to write: of every variant that is kept, and of every mix as mixes/N-matched.wav.

    Copies of an earlier time are removed: the common level may have changed. A variant whose render is no longer there
    gets none.
    """
    found = []
    for row in rows:
        if not (row.done and row.kept) or row.match_gain_db is None:
            continue
        render, target = (folder.path.absolute() / row.files[name] for name in ("render", "matched"))
        if render.is_file():
            found.append(Copy(render, target, row.match_gain_db))
    place = folder.subfolder("mixes")
    for number, (mix, gain) in enumerate(zip(mixes, mix_gains, strict=True), 1):
        if gain is not None:
            tag = BroadcastTag(tag_of(folder.path, f"mix {number}", now), f"{now:%Y-%m-%d}", f"{now:%H:%M:%S}")
            found.append(Copy(mix.file.path.absolute(), place / f"{number}-matched.wav", gain, tag))
    for copy in found:
        removed(copy.target)
    return found
