"""A run's table read back as a pandas frame, for people who go on in Python."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from sweeper.errors import RunFolderError
from sweeper.records.picks import Picks
from sweeper.table.frame import INDEX, is_number, text_type
from sweeper.table.picks import LISTENING_NOTES, PICK, notes_words, pick_of, picks_of
from sweeper.table.written import damaged, read_ledger

TABLE = "table.csv"


def load_run(folder: Path) -> pd.DataFrame:
    """The table of the run in that folder; see `frame` for its columns.

    Where somebody has listened, `pick` and `listening notes` stand behind it, from the audition's notes.

    attrs: title, run (the folder), state, chain (the chain file to the letter), mixes and references (of each its
    file, measurements, and the mix's match_gain_db). Raises RunFolderError when it is no run or cannot be read.
    """
    path, run = read_ledger(folder)
    table = _with_picks(_read(path / TABLE), picks_of(path))
    answer = run.get("answer") or {}
    table.attrs = {
        "title": run.get("title"), "run": str(path), "state": run.get("state"), "chain": run.get("chain"),
        "mixes": answer.get("mixes", []), "references": answer.get("references", []),
    }  # fmt: skip
    return table


def _with_picks(table: pd.DataFrame, picks: Picks | None) -> pd.DataFrame:
    """The table with what was decided of each variant; as it is where nothing was. Missing where nothing was said."""
    if picks is None:
        return table
    each = [pick_of(picks, str(id)) for id in table.index]
    columns = {PICK: [one.verdict or None for one in each],
               LISTENING_NOTES: [notes_words(one.notes) or None for one in each]}  # fmt: skip
    text = text_type()
    return table.assign(**{name: pd.Series(cells, index=table.index, dtype=text) for name, cells in columns.items()})


def _read(file: Path) -> pd.DataFrame:
    """Only an empty cell is missing: a setting may well be called "None" or "nan"."""
    try:
        table = pd.read_csv(file, dtype=text_type(), index_col=INDEX, encoding="utf-8", keep_default_na=False,
                            na_values=[""])  # fmt: skip
        columns = list(table.columns)
        return table.astype({name: "float64" for name in columns if is_number(name, columns)})
    except FileNotFoundError as exc:
        raise RunFolderError(f"{file.parent} has no {TABLE} yet",
                             "it is there when the run is over, or was stopped with Ctrl-C") from exc  # fmt: skip
    except OSError as exc:
        raise RunFolderError(f"cannot read {file}: {exc.strerror or exc}", "check the folder's permissions") from exc
    except ValueError as exc:
        raise damaged(file, str(exc)) from exc
