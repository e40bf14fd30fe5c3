"""What an engineer noted of a variant in the audition: a verdict, and notes at times of the music."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

#: Where a run keeps them.
NOTES_NAME = "audition/notes.json"
KEEP = "keep"


@dataclass(frozen=True)
class Note:
    """at_s: the time in the music, None = of the whole."""

    at_s: float | None
    text: str


@dataclass(frozen=True)
class Pick:
    """verdict: "keep", "maybe" or "drop", "" = none was given. trials: forced choices that it was part of, in words."""

    verdict: str
    notes: tuple[Note, ...]
    trials: tuple[str, ...] = ()


def pick_of(run: Path, variant: str) -> Pick | None:
    """What was noted of a variant; None where nothing was, or the notes cannot be read."""
    data = _read(run)
    pick = data.get("picks", {}).get(variant) if isinstance(data.get("picks"), dict) else None
    trials = tuple(_trial(each) for each in data.get("trials", []) if isinstance(each, dict) and variant in (
        each.get("a"), each.get("b")))  # fmt: skip
    if not isinstance(pick, dict):
        return Pick("", (), trials) if trials else None
    notes = [Note(_number(each.get("at_s")), str(each.get("text", ""))) for each in pick.get("notes") or []
             if isinstance(each, dict)]  # fmt: skip
    return Pick(str(pick.get("verdict") or ""), tuple(note for note in notes if note.text), trials)


def picked(sheet: Path) -> bool:
    """Whether the variant of a sheet was picked to keep."""
    pick = pick_of(sheet.absolute().parents[2], sheet.parent.name)
    return pick is not None and pick.verdict == KEEP


def _trial(data: Mapping[str, Any]) -> str:
    words = f"{data.get('a')} against {data.get('b')}: told apart {data.get('right')} times of {data.get('of')}"
    planned, of = _number(data.get("planned")), _number(data.get("of"))
    return f"{words}, ended early, of {planned:.0f}" if planned and of and planned > of else words


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _read(run: Path) -> dict[str, Any]:
    try:
        data = json.loads((run / NOTES_NAME).read_text("utf-8"))
    except (OSError, ValueError):  # nothing was noted, or it is another program's
        return {}
    return data if isinstance(data, dict) else {}
