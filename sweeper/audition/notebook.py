"""The run's notes on disk: saved as the listener goes, each save whole or not at all, the one before it kept beside.

`audition/notes.json` of the run is the source of what was picked. `notes.before.json` is the one before the last save;
`notes-rN.json` is how it stood at revision N, when somebody began to change it again.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from filelock import FileLock

from sweeper.audio.placing import place_text
from sweeper.errors import RunFolderError
from sweeper.records.picks import SCHEMA, Picks
from sweeper.render.writing import write_whole

NAME, BEFORE = "notes.json", "notes.before.json"
#: Another save takes milliseconds.
LOCK_S = 10.0


class Outdated(Exception):
    """A save that goes by an older revision than the one that is there. document: what is there."""

    def __init__(self, document: Mapping[str, Any]) -> None:
        super().__init__(f"revision {document['revision']} is there")
        self.document = document


class Foreign(ValueError):
    """Notes of another run."""


class Notebook:
    """The notes of one run. Several processes may have it open: a save that missed another's is refused.

    place: the run's `audition` folder. identity: what the notes name the run by.
    """

    def __init__(self, place: Path, identity: str) -> None:
        self.path = place / NAME
        self.identity = identity
        self._lock = FileLock(place / ".notes.lock", timeout=LOCK_S, thread_local=False)
        self._kept_at_start = False

    def read(self) -> dict[str, Any]:
        """What is there; an empty document of revision 0 before the first save.

        Raises RunFolderError when it cannot be read or understood, or is of another run.
        """
        try:
            data = json.loads(self.path.read_text("utf-8"))
            of = Picks.from_data(data).run
        except FileNotFoundError:
            return {"schema": SCHEMA, "run": self.identity, "saved": "", "picks": {}, "trials": [], "ranking": {},
                    "revision": 0}  # fmt: skip
        except (OSError, ValueError) as exc:
            raise RunFolderError(f"{self.path} cannot be read: {exc}",
                                 f"rename it; {BEFORE} beside it is the save before") from exc  # fmt: skip
        if not same_run(of, self.identity):
            raise RunFolderError(f"{self.path} is of another run: {of}", "move it away, into the run that it is of")
        assert isinstance(data, dict)
        return data

    def save(self, document: object) -> int:
        """Save a document that carries the revision it was made from; returns the new revision.

        Raises ValueError for what is no such document, Foreign (a ValueError) for another run's, Outdated, and
        RunFolderError when the disk refuses.
        """
        picks = Picks.from_data(document)
        assert isinstance(document, Mapping)
        if not same_run(picks.run, self.identity):
            raise Foreign(f"these notes are of the run {picks.run}, this is {self.identity}")
        with self._lock:
            now = self.read()
            if picks.revision != now["revision"]:
                raise Outdated(now)
            revision = picks.revision + 1
            saved = datetime.now().astimezone().isoformat(timespec="seconds")
            self._keep(now["revision"])
            whole = {**document, "run": self.identity, "saved": saved, "revision": revision}
            write_whole(self.path, json.dumps(whole, indent=1, ensure_ascii=False, allow_nan=False) + "\n")
        return revision

    def _keep(self, revision: int) -> None:
        """What is there, kept beside before it is replaced."""
        if not revision:
            return
        text = self.path.read_text("utf-8")
        if not self._kept_at_start:
            first = self.path.with_name(f"notes-r{revision}.json")
            if not first.exists():
                place_text(first, text)
            self._kept_at_start = True
        write_whole(self.path.with_name(BEFORE), text)


def same_run(one: str, other: str) -> bool:
    """Whether two identities are of one run, whatever its folder is called."""
    return one.rpartition("#")[2] == other.rpartition("#")[2]
