"""What was picked of a run, beside its table: `audition/notes.json` is the source, nothing else of the run changes."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

from sweeper.records.picks import Note, Pick, Picks, Unfinished
from sweeper.table.written import damaged
from sweeper.units import clock

PLACE, NAME = "audition", "notes.json"
#: What the columns are called; `notes` is what the run itself has to say of a variant.
PICK, LISTENING_NOTES = "pick", "listening notes"


def picks_of(run: Path) -> Picks | None:
    """What was decided of the run in that folder; None where nobody has listened yet.

    Raises RunFolderError when the notes cannot be understood.
    """
    file = run / PLACE / NAME
    try:
        return Picks.from_data(json.loads(file.read_text("utf-8")))
    except FileNotFoundError:
        return None
    except (OSError, ValueError) as exc:
        raise damaged(file, str(exc)) from exc


def pick_of(picks: Picks | None, id: str) -> Pick:
    """Of one variant; an empty one where nothing was decided."""
    return picks.picks.get(id, Pick("")) if picks else Pick("")


def notes_words(notes: Sequence[Note]) -> str:
    """1:02.5 the snare is back; a little dull"""
    return "; ".join(note.text if note.at_s is None else f"{clock(note.at_s)} {note.text}" for note in notes)


def rated_words(id: str, pick: Pick) -> str:
    """The untouched mix (mix-1): rated keep with names hidden, which is no pick; 1:02.5 boxy"""
    name = f"the untouched mix ({id})" if id.startswith("mix") else id
    rated = f"rated {pick.verdict} with names hidden, which is no pick" if pick.verdict else ""
    return f"{name}: {'; '.join(filter(None, (rated, notes_words(pick.notes))))}"


def unfinished_words(begun: Unfinished) -> str:
    """A forced choice, 002 or 005, is unfinished: 5 of 12 answered"""
    if not begun.of:
        return f"a ranking of {len(begun.sounds)} sounds is unfinished: {begun.answered} answers"
    return f"a forced choice, {' or '.join(begun.sounds)}, is unfinished: {begun.answered} of {begun.of} answered"


def pick_data(pick: Pick) -> dict[str, object]:
    """For a row in JSON."""
    return {"pick": pick.verdict or None,
            "listening_notes": [{"at_s": note.at_s, "text": note.text} for note in pick.notes]}  # fmt: skip
