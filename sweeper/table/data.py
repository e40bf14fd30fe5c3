"""The table for machines: JSON rows and CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from sweeper.quantities import BY_KEY, Measurements
from sweeper.render.job import Solved
from sweeper.table.row import Row
from sweeper.verdict import Verdict

#: Decimals kept of every measurement in the table.
DECIMALS = 4


def row_data(row: Row) -> dict[str, object]:
    """One variant for `run --json`."""
    return {
        "id": row.id, "mix": row.mix, "status": row.status, "cause": row.cause or None,
        "settings": dict(row.settings),
        "measurements": row.measurements.as_data() if row.measurements else None,
        "files": dict(row.files), "reach": solved_data(row.solved),
        "limits": [verdict_data(verdict) for verdict in row.verdicts],
        "match_gain_db": row.match_gain_db, "rank": row.rank, "notes": list(row.notes),
    }  # fmt: skip


def solved_data(solved: Solved | None) -> dict[str, object] | None:
    """A reach for JSON; None when nothing was solved."""
    if solved is None:
        return None
    return {
        "measurement": solved.key, "goal": solved.goal, "value": solved.value, "ending": solved.ending.value,
        "why": solved.why or None, "setting": solved.setting, "at": solved.at, "unit": solved.unit,
        "passes": solved.passes,
    }  # fmt: skip


def verdict_data(verdict: Verdict) -> dict[str, object]:
    """A limit for JSON. met is null when there was nothing to judge; then reason says why."""
    return {"limit": verdict.limit, "met": verdict.met, "margin": verdict.margin, "reason": verdict.reason or None}


def csv_text(rows: Sequence[Row]) -> str:
    """The table as CSV, one row a variant in the given order, units in the headings.

    An empty cell is a value that does not exist. The same rows give the same bytes.
    """
    records = [_record(row) for row in rows]
    fullest_first = sorted(records, key=len, reverse=True)
    columns = list(dict.fromkeys(column for record in fullest_first for column in record))
    out = io.StringIO()
    writer = csv.DictWriter(out, _arranged(columns), restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(records)
    return out.getvalue()


def _arranged(columns: list[str]) -> list[str]:
    """Measurements of sections after those of the whole, whatever the first row lacks."""
    return [c for c in columns if " [" not in c] + [c for c in columns if " [" in c]


def _record(row: Row) -> dict[str, object]:
    record: dict[str, object] = {"variant": row.id, "mix": row.mix, "status": row.status, "cause": row.cause}
    record["rank"] = "" if row.rank is None else row.rank
    record |= row.settings
    if row.solved is not None:
        record |= {"reach": row.solved.ending.value, "reach stopped by": row.solved.why, "passes": row.passes}
    record["match_gain_db"] = _cell(row.match_gain_db)
    if row.measurements is not None:
        record |= _measured(row.measurements, "")
        for name, part in row.measurements.sections.items():
            record |= _measured(part, f" [{name}]")
    for verdict in row.verdicts:
        record[f"limit {verdict.limit}"] = {True: "met", False: "broken", None: "not judged"}[verdict.met]
        record[f"margin {verdict.limit}"] = _cell(verdict.margin)
    return record | {"notes": "; ".join(row.notes)}


def _measured(measurements: Measurements, suffix: str) -> dict[str, object]:
    return {key + suffix: _cell(value) for key, value in measurements.values.items() if key in BY_KEY}


def _cell(value: float | None) -> object:
    if value is None:
        return ""
    return int(value) if float(value).is_integer() and abs(value) < 1e15 else round(value, DECIMALS) + 0.0
