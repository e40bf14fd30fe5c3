"""The table as a pandas frame: one row a variant, units in the names of the columns."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple

from sweeper.quantities import Measurements, find_quantity, quantity_of
from sweeper.render.job import Solved
from sweeper.table.row import OnExcerpts, Row
from sweeper.verdict import Verdict

if TYPE_CHECKING:
    import pandas as pd

#: Decimals kept of every measurement in the table.
DECIMALS = 4
INDEX = "variant"
NUMBERS = frozenset({"rank", "front", "passes", "match_gain_db"})
WHY = "why kept"
#: Behind the name of what was found on excerpts; a section's stands in brackets of the other kind.
ON_EXCERPTS = " (excerpts)"
FITS = f"fits{ON_EXCERPTS}"
#: Columns that a stage's name may not hide, as those of measurements: a setting called so gets SETTING behind it.
TAKEN = frozenset({INDEX, "mix", "status", "cause", "kept", WHY, "reach", "notes", FITS, "pick", "listening notes",
                   *NUMBERS})  # fmt: skip
SETTING = " (setting)"
Cell = float | str | None
Cells = dict[str, Cell]


@cache
def text_type() -> str:
    """What pandas makes of text: a type of its own from version 3 on, objects before."""
    import pandas as pd

    return str(pd.Series(["text"]).dtype)


class Told(NamedTuple):
    """Which columns there are that not every run needs."""

    front: bool
    kept: bool
    why: bool


def frame(rows: Sequence[Row]) -> pd.DataFrame:
    """The table, the rows in the given order, with the variant's id as the index.

    Measurements, margins, gains, ranks and passes are float64, NaN where there is none; everything else is text.
    Settings are as written, the solved ones rounded. The columns do not depend on the order of the rows.
    """
    import pandas as pd  # takes a second to load, and what only reads a run needs none of it

    told = Told(any(r.front is not None for r in rows), not all(r.kept for r in rows if r.done),
                any(r.why for r in rows))  # fmt: skip
    split = {row.id: _groups(row, _name_of_reach(rows), told) for row in rows}
    groups = zip(*(split[id] for id in sorted(split)), strict=True)
    columns = [name for group in groups for name in merged([list(cells) for cells in group])]
    flat = [{name: cell for cells in split[row.id] for name, cell in cells.items()} for row in rows]
    index = pd.Index([row.id for row in rows], name=INDEX, dtype=text_type())
    series = {name: _column(is_number(name, columns), [cells.get(name) for cells in flat], index) for name in columns}
    return pd.DataFrame(series, index=index)


def csv_of(table: pd.DataFrame) -> str:
    """A frame as CSV: whole numbers without a point, empty where there is nothing. The same frame, the same bytes."""
    return table.astype(object).map(_written).to_csv(lineterminator="\n")


def is_number(name: str, columns: Sequence[str]) -> bool:
    """Whether a column holds numbers. A margin is one when its limit is there as well."""
    whole = re.sub(r" \[.*\]$", "", name).removesuffix(ON_EXCERPTS)  # of a section, or of excerpts
    what, _, rest = name.partition(" ")
    return (find_quantity(whole) is not None or name in NUMBERS
            or (what == "margin" and f"limit {rest}" in columns))  # fmt: skip


def merged(lists: Sequence[Sequence[str]]) -> list[str]:
    """Every name once. A name that is new in a later list keeps its neighbours: after the one before it, if any."""
    found: list[str] = []
    for names in lists:
        for at, name in enumerate(names):
            if name in found:
                continue
            later = [found.index(other) for other in names[at + 1 :] if other in found]
            found.insert(found.index(names[at - 1]) + 1 if at else min(later, default=len(found)), name)
    return found


def _groups(row: Row, reach_name: dict[str, str], told: Told) -> tuple[Cells, ...]:
    """The row's cells in groups; within the table a group's columns stay together."""
    head: Cells = {"mix": row.mix, "status": row.status, "cause": row.cause or None, "rank": row.rank}
    head |= {"front": row.front} if told.front else {}
    head |= {"kept": ("yes" if row.kept else "no") if row.done else None} if told.kept else {}
    head |= {WHY: row.why or None} if told.why else {}
    settings: Cells = {f"{name}{SETTING}" if _is_taken(name) else name: text for name, text in row.settings.items()}
    reach = _reach(row.solved, reach_name) | ({"passes": row.passes} if row.solved else {})
    level: Cells = {"match_gain_db": row.match_gain_db}
    whole: Cells = {}
    parts: Cells = {}
    if row.measurements is not None:
        whole = _measured(row.measurements, "")
        for name, part in row.measurements.sections.items():
            parts |= _measured(part, f" [{name}]")
    notes: Cells = {"notes": "; ".join(row.notes) or None}
    return head, settings, reach, level, whole, _limits(row.verdicts), notes, parts, _on_excerpts(row.on_excerpts)


def _is_taken(name: str) -> bool:
    return name in TAKEN or find_quantity(name) is not None


def _name_of_reach(rows: Sequence[Row]) -> dict[str, str]:
    """What each reach is called in the headings: "reach" alone, "reach loudness" beside another."""
    keys = merged([[solved.key for solved in row.solved] for row in rows])
    return {key: "reach" if len(keys) == 1 else f"reach {quantity_of(key).name}" for key in keys}


def _reach(solved: Sequence[Solved], name: Mapping[str, str]) -> Cells:
    cells: Cells = {}
    for one in solved:
        cells |= {name[one.key]: one.ending.value, f"{name[one.key]} stopped by": one.why or None}
    return cells


def _limits(verdicts: Sequence[Verdict]) -> Cells:
    cells: Cells = {}
    for verdict in verdicts:
        cells[f"limit {verdict.limit}"] = {True: "met", False: "broken", None: "not judged"}[verdict.met]
        cells[f"margin {verdict.limit}"] = verdict.margin
    return cells


def _measured(measurements: Measurements, suffix: str) -> Cells:
    return {key + suffix: value for key, value in measurements.values.items() if find_quantity(key) is not None}


def _on_excerpts(found: OnExcerpts | None) -> Cells:
    """In columns of their own, behind all others: they are no measurements of a file."""
    if found is None:
        return {}
    return {FITS: "yes" if found.fits else "no", **_measured(found.measurements, ON_EXCERPTS)}


def _column(number: bool, cells: Sequence[Cell], index: pd.Index[str]) -> pd.Series[Any]:
    import pandas as pd

    if number:
        rounded = [float("nan") if cell is None else round(float(cell), DECIMALS) + 0.0 for cell in cells]
        return pd.Series(rounded, index=index, dtype="float64")
    return pd.Series([float("nan") if cell is None else cell for cell in cells], index=index, dtype=text_type())


def _written(cell: object) -> str:
    if isinstance(cell, float):
        if cell != cell:
            return ""
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(cell)
    return str(cell)
