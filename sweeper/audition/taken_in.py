"""Notes that came back as a file, taken into the run's own: nothing that stands there is lost."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sweeper.audition.gathered import folder_in
from sweeper.audition.heard import identity
from sweeper.audition.notebook import Notebook, same_run
from sweeper.errors import SheetError
from sweeper.records.picks import Picks, is_variant
from sweeper.table.written import read_ledger

REMEDY = "name the file that the page saved (….picks.json)"


@dataclass(frozen=True)
class TakenIn:
    """What came of it. decided: variants whose verdict is new; changed: id -> verdict before. rated: what else has
    a new verdict. ranked: mixes with another ranking. notes: how many are new."""

    path: Path
    decided: tuple[str, ...]
    changed: Mapping[str, str]
    rated: tuple[str, ...]
    ranked: tuple[str, ...]
    notes: int
    trials: int


def take_in(run_folder: Path, file: Path) -> TakenIn:
    """Add the notes of a file to the run's.

    A verdict of the file replaces another one, notes and trials are added to those that are there, each once; a ranking
    replaces that of the same mix. What stood there is kept beside, as of every save. Raises SheetError for a file that
    cannot be read, or is of another run; RunFolderError as `Notebook` does.
    """
    path, ledger = read_ledger(run_folder)
    given, named = _read(file), identity(ledger, path)
    if not same_run(str(given["run"]), named):
        raise SheetError(f"{file} holds the picks of another run: {given['run']}; this is {named}",
                         "name the run that its page was made from")  # fmt: skip
    notebook = Notebook(folder_in(path), named)
    now = notebook.read()
    before, picks = Picks.from_data(now), Picks.from_data(given)
    known = {str(variant["id"]) for variant in ledger["variants"]}
    strange = [id for id in picks.picks if id.split("-")[0] not in {*known, "mix", "reference"}]
    if strange:
        raise SheetError(f"{file} has picks of {', '.join(strange)}, which this run has not", REMEDY)
    merged = _merged(now, given)
    after = Picks.from_data(merged)
    if any(merged[part] != now.get(part) for part in ("picks", "trials", "ranking")):
        notebook.save(merged)
    old = {id: before.picks[id].verdict if id in before.picks else "" for id in after.picks}
    new = [id for id, one in after.picks.items() if one.verdict != old[id]]
    own = [id for id in new if is_variant(id)]
    return TakenIn(
        notebook.path, tuple(id for id in own if not old[id]), {id: old[id] for id in own if old[id]},
        tuple(id for id in new if id not in own),
        tuple(mix for mix in after.ranking if after.ranking[mix] != before.ranking.get(mix)),
        sum(len(one.notes) for one in after.picks.values()) - sum(len(one.notes) for one in before.picks.values()),
        len(after.trials) - len(before.trials),
    )  # fmt: skip


def _read(file: Path) -> dict[str, Any]:
    try:
        data = json.loads(file.read_text("utf-8"))
        Picks.from_data(data)
    except OSError as exc:
        raise SheetError(f"{file} cannot be read: {exc.strerror or exc}", REMEDY) from exc
    except (ValueError, RecursionError) as exc:
        raise SheetError(f"{file} holds no picks: {exc}", REMEDY) from exc
    assert isinstance(data, dict)
    return data


def _merged(now: Mapping[str, Any], given: Mapping[str, Any]) -> dict[str, Any]:
    """The document that is there, with what the file has more."""
    picks = {id: dict(one) for id, one in now["picks"].items()}
    for id, one in given.get("picks", {}).items():
        mine = picks.setdefault(id, {"verdict": "", "notes": []})
        mine["verdict"] = one.get("verdict") or mine.get("verdict", "")
        mine["notes"] = _with(mine.get("notes", []), one.get("notes", []))
    ranking = {**now.get("ranking", {}), **given.get("ranking", {})}
    return {**now, "picks": picks, "trials": _with(now.get("trials", []), given.get("trials", [])), "ranking": ranking}


def _with(there: list[Any], more: list[Any]) -> list[Any]:
    return [*there, *(one for one in more if one not in there)]
