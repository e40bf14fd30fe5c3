"""Which variants are the best, and their rows with what was found inside their chains."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

from sweeper.render.finalists import MOST_FINALISTS, with_inside
from sweeper.render.inside import Inside
from sweeper.table.row import Row
from sweeper.table.rows import cause_of
from sweeper.workers import Failed


def finalists(rows: Sequence[Row]) -> tuple[str, ...]:
    """The ids of the first few of each mix, as ranked, whose sound is kept; none where nothing ranks them."""
    counted: Counter[str] = Counter()
    found = []
    for row in rows:
        if row.rank is not None and row.kept and counted[row.mix] < MOST_FINALISTS:
            counted[row.mix] += 1
            found.append(row.id)
    return tuple(found)


def rows_looked_into(rows: Sequence[Row], inside: Mapping[str, Inside | Failed]) -> list[Row]:
    """The rows, those that were looked into with what was found, or with a note of why it was not."""
    return [_looked_into(row, inside[row.id]) if row.id in inside else row for row in rows]


def _looked_into(row: Row, found: Inside | Failed) -> Row:
    if isinstance(found, Failed):
        return replace(row, notes=(*row.notes, f"could not be looked into: {cause_of(found)}"))
    assert row.measurements is not None
    return replace(row, measurements=with_inside(row.measurements, found), looked_into=True)
