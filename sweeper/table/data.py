"""The table for machines: JSON rows, there and back, and CSV."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sweeper.quantities import Measurements, quantity_of
from sweeper.render.job import Solved
from sweeper.table.frame import csv_of, frame
from sweeper.table.row import OnExcerpts, Row
from sweeper.verdict import Verdict


def row_data(row: Row) -> dict[str, object]:
    """One variant for `run --json`."""
    return {
        "id": row.id, "mix": row.mix, "status": row.status, "cause": row.cause or None,
        "settings": dict(row.settings),
        "measurements": row.measurements.as_data() if row.measurements else None,
        "files": dict(row.files), "kept": row.kept, "looked_into": row.looked_into,
        "reach": [one.as_data() for one in row.solved],
        "passes": row.passes, "excerpts": row.excerpts, "limits": [verdict_data(verdict) for verdict in row.verdicts],
        "match_gain_db": row.match_gain_db, "rank": row.rank, "front": row.front, "why": row.why or None,
        "notes": list(row.notes),
        **({"own": list(row.own)} if row.own else {}),
        **({"on_excerpts": _on_excerpts_data(row.on_excerpts)} if row.on_excerpts else {}),
    }  # fmt: skip


def _on_excerpts_data(found: OnExcerpts) -> dict[str, object]:
    """What a try came to; never under the names that a render's measurements have in a row."""
    return {"measurements": found.measurements.as_data(), "reach": [one.as_data() for one in found.solved],
            "limits": [verdict_data(verdict) for verdict in found.verdicts], "fits": found.fits,
            "excerpts": found.excerpts}  # fmt: skip


def _on_excerpts_from(data: Mapping[str, Any]) -> OnExcerpts:
    return OnExcerpts(Measurements.from_data(data["measurements"]), tuple(map(_verdict_from, data["limits"])),
                      tuple(map(Solved.from_data, data["reach"])), data["excerpts"])  # fmt: skip


def row_from(data: Mapping[str, Any]) -> Row:
    """The row that `row_data` made the data of; only its seconds in plugins are not there.

    Raises KeyError, TypeError or ValueError when it is no such data.
    """
    return Row(
        id=data["id"], mix=data["mix"], status=data["status"], cause=data["cause"] or "", settings=data["settings"],
        measurements=Measurements.from_data(data["measurements"]) if data["measurements"] is not None else None,
        verdicts=tuple(map(_verdict_from, data["limits"])), solved=tuple(map(Solved.from_data, data["reach"])),
        match_gain_db=data["match_gain_db"], rank=data["rank"], notes=tuple(data["notes"]), passes=data["passes"],
        files=data["files"], kept=data["kept"], looked_into=data.get("looked_into", False),
        front=data.get("front"), excerpts=data.get("excerpts", 0.0), why=data.get("why") or "",
        own=tuple(data.get("own", ())),
        on_excerpts=_on_excerpts_from(data["on_excerpts"]) if data.get("on_excerpts") else None,
    )  # fmt: skip


def verdict_data(verdict: Verdict) -> dict[str, object]:
    """A limit for JSON. met is null when there was nothing to judge; then reason says why."""
    return {"limit": verdict.limit, "measurement": verdict.key, "met": verdict.met, "margin": verdict.margin,
            "unit": quantity_of(verdict.key).difference_unit, "reason": verdict.reason or None}  # fmt: skip


def _verdict_from(data: Mapping[str, Any]) -> Verdict:
    return Verdict(data["limit"], data["measurement"], data["met"], data["margin"], data["reason"] or "")


def csv_text(rows: Sequence[Row]) -> str:
    """The table as CSV, one row a variant in the given order, units in the headings; see `frame`.

    An empty cell is a value that does not exist. The same rows give the same bytes.
    """
    return csv_of(frame(rows))
