"""Every past master in a folder made again, to see which still come back: after an update, or on another machine."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from sweeper.errors import PluginError, RunFolderError, SheetError, StoreError, SweeperError
from sweeper.recall.again import Recalled, held_against, looked_into, outcome
from sweeper.recall.asked import Asked
from sweeper.recall.by_sound import RENDER_NAME
from sweeper.recall.find import Found, read_sheet
from sweeper.recall.notes import picked
from sweeper.recall.places import sheets_in
from sweeper.recall.rendering import job_for, prepared, rendered
from sweeper.workers import Pool

#: Exit codes, as README has them; the first that any master has is the command's.
DIFFERS, PLUGIN, WRONG = 6, 4, 3


@dataclass(frozen=True)
class Line:
    """What came of one master. made: None where it could not be made; then `trouble` says why, and `code` as what."""

    place: Path
    run: str
    title: str
    variant: str
    made: Recalled | None = None
    trouble: str = ""
    remedy: str = ""
    code: int = 0

    def as_data(self) -> dict[str, object]:
        """For JSON."""
        head = {"sheet": str(self.place), "run": self.run, "title": self.title, "variant": self.variant}
        if self.made is None:
            return {**head, "verdict": None, "trouble": self.trouble, "remedy": self.remedy, "exit_code": self.code}
        return {**head, **outcome(self.made), "notes": list(self.made.notes), "exit_code": self.code}


def masters(folder: Path, only_picked: bool) -> list[Path]:
    """The sheets of a folder that are of a master of its own: each sound once, and none that is a recall of another.

    only_picked: those alone that were kept in an audition. Raises SheetError when there is none.
    """
    found = {place: _about(place) for place in sheets_in([folder])}
    ids = {about.id for about in found.values()}
    own: dict[str, Path] = {}
    for place, about in sorted(found.items()):
        is_copy = bool(about.parent) and not about.change and about.parent in ids
        if not is_copy and (picked(place) or not only_picked):
            own.setdefault(about.sound, place)
    if not own:
        words = "that was picked" if only_picked else "in it"
        what = f"{folder} has no recall sheet {words}" if folder.is_dir() else f"there is no folder {folder}"
        raise SheetError(what, "name a results folder, a run or an unpacked archive")
    return sorted(own.values())


@dataclass(frozen=True)
class _About:
    """What a sheet is about; one that cannot be read is about itself, and is told in the table."""

    id: str
    sound: str
    parent: str
    change: str


def _about(place: Path) -> _About:
    try:
        data = json.loads(place.read_text("utf-8"))
        return _About(str(data["id"]), str(data["audio_sha256"]), str(data.get("parent", "")),
                      str(data.get("change", "")))  # fmt: skip
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return _About(str(place), str(place), "", "")


def every(places: Sequence[Path], asked: Asked, begun: Callable[[int, Path], None]) -> tuple[Line, ...]:
    """Make each master again and hold it against what it was; what is rendered is thrown away.

    begun: gets the number and the sheet of each, before it is made.

    Raises RunFolderError or StoreError where nothing can be written any more.
    """
    lines = []
    for number, place in enumerate(places, 1):
        begun(number, place)
        lines.append(_line(place, asked))
    return tuple(lines)


def exit_code(lines: Sequence[Line]) -> int:
    """6 where any differs, else 4 where a plugin is missing or failed, else 3 where a mix or sheet is wrong, else 0."""
    codes = {line.code for line in lines}
    return next((code for code in (DIFFERS, PLUGIN, WRONG) if code in codes), 0)


def _line(place: Path, asked: Asked) -> Line:
    run = place.absolute().parents[2].name
    try:
        found = Found(read_sheet(place), place, None)
    except SheetError as exc:
        return Line(place, run, "", place.parent.name, None, exc.what, exc.remedy, WRONG)
    line = Line(place, run, found.sheet.title, found.sheet.variant)
    try:
        made = _made(found, asked)
    except (RunFolderError, StoreError):
        raise
    except SweeperError as exc:
        code = PLUGIN if isinstance(exc, PluginError) else exc.exit_code
        return replace(line, trouble=exc.what, remedy=exc.remedy, code=code)
    return replace(line, made=made, code=0 if made.verdict.came_back else DIFFERS)


def _made(found: Found, asked: Asked) -> Recalled:
    """One master made again in a place that is gone afterwards."""
    with (Pool(1, asked.watch) as pool,
          TemporaryDirectory(prefix="sweeper-recall-", ignore_cleanup_errors=True) as folder):  # fmt: skip
        place = Path(folder)
        ready = prepared(found, asked, pool)
        job = job_for(ready, place / RENDER_NAME, place, asked, datetime.now())
        made, job, refused = rendered(ready, job, pool, lambda: None)
        told = held_against(ready, job, made, place)
        told = replace(told, notes=(*told.notes, *refused))
        return looked_into(told, ready, job, made, asked, pool)
