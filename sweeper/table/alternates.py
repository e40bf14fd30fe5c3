"""Rows of mixes that were rendered with another mix's settings: kept as that one's are, and how far they differ."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from sweeper.table.row import Row


def with_alternates(rows: Sequence[Row], marked: Sequence[Row], mains: Mapping[str, str]) -> list[Row]:
    """All rows in their order: those that were chosen among as they are marked, an alternate as its main is.

    mains: of every alternate its main variant, by id.
    """
    known = {row.id: row for row in marked}
    found = []
    for row in rows:
        if row.id not in mains:
            found.append(known[row.id])
            continue
        main = known[mains[row.id]]
        found.append(replace(row, kept=main.kept and row.done, why=f"as its main {main.id}" if main.why else ""))
    return found


def levels_told(rows: Sequence[Row], mains: Mapping[str, str]) -> tuple[str, ...]:
    """How loud each alternate came out beside its main, in words; nothing of one that failed, or has no loudness."""
    known = {row.id: row for row in rows}
    found = []
    for row in sorted((row for row in rows if row.id in mains), key=lambda row: row.id):
        main = known.get(mains[row.id])
        if row.measurements is None or main is None or main.measurements is None:
            continue
        loud, its = row.measurements["loudness_lufs"], main.measurements["loudness_lufs"]
        peak = row.measurements["true_peak_dbtp"]
        if loud is None or its is None or peak is None:
            continue
        found.append(f"{row.id} is {row.mix} with the settings of {main.id}: {_apart(loud - its)}, "
                     f"true peak {peak:.2f} dBTP")  # fmt: skip
    return tuple(found)


def _apart(louder_lu: float) -> str:
    if round(abs(louder_lu), 2) == 0:
        return "as loud"
    return f"{abs(louder_lu):.2f} LU {'louder' if louder_lu > 0 else 'quieter'}"
