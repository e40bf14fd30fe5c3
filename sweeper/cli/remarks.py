"""What is said of variants below their table."""

from __future__ import annotations

from collections.abc import Sequence

from rich.markup import escape

from sweeper.chain.model import Preference
from sweeper.plan.reach import END_OF_WAY, Ending
from sweeper.quantities import quantity_of
from sweeper.render.job import Solved
from sweeper.table.row import Row, solved_text
from sweeper.verdict import Verdict


def row_remarks(rows: Sequence[Row]) -> list[str]:
    """Why rows failed, how reaches ended that are not on target, which limits are broken, and notes; as markup."""
    remarks = []
    for row in rows:
        if row.failed:
            remarks.append(f"[red]{row.id} failed:[/red] {escape(row.cause)}")
        missed = [one for one in row.solved if one.missed or one.ending not in (Ending.ON_TARGET, Ending.AS_MAIN)]
        remarks += [escape(f"{row.id}: {ending_words(one)}") for one in missed]
        remarks += [escape(f"{row.id} {words}") for words in map(broken_words, row.verdicts) if words]
    return remarks + note_remarks(rows)


def note_remarks(rows: Sequence[Row]) -> list[str]:
    """Every note once, behind the variants that have it; as markup."""
    by_note: dict[str, list[str]] = {}
    for row in rows:
        for note in row.notes:
            by_note.setdefault(note, []).append(row.id)
    return [escape(f"{_listed(ids)}: {note}") for note, ids in by_note.items()]


def ending_words(solved: Solved) -> str:
    """How a reach that did not land on its target ended, in words."""
    quantity = quantity_of(solved.key)
    place = f"{solved.setting} {solved_text(solved)}"
    if solved.ending is Ending.STOPPED:
        return f"{quantity.name} stopped as asked at {place}: {solved.why}"
    measured = f"{solved.value + 0.0:.{quantity.decimals}f} {quantity.unit} " if solved.value is not None else ""
    unit = f" {solved.unit}" if solved.unit and solved.why.startswith(END_OF_WAY) else ""
    if solved.ending is Ending.FARTHEST:
        return f"{quantity.name} went as far as it goes: {measured}at {place}; what stopped it: {solved.why}{unit}"
    if solved.ending is Ending.AS_MAIN:
        over = f": {solved.value - solved.goal:.2f} dB too high" if solved.missed and solved.value is not None else ""
        return f"{quantity.name} {measured}with the main mix's {place}{over}"
    if solved.ending is Ending.NOT_ENGAGED:
        return f"{quantity.name} is met, not engaged: {measured}at {place}"
    return f"{quantity.name} is out of reach: closest {measured}at {place}; what stopped it: {solved.why}{unit}"


def broken_words(verdict: Verdict) -> str:
    """breaks crest >= 8 dB by 0.40 dB; "" for a limit that is not broken."""
    if verdict.met is not False or verdict.margin is None:
        return ""
    unit = quantity_of(verdict.key).difference_unit
    digits = f"{-verdict.margin:.2f}"
    amount = digits if float(digits) else "less than 0.01"
    return f"breaks {verdict.limit} by {f'{amount} {unit}'.strip()}"


def order_remark(prefer: Sequence[Preference], count: int) -> list[str]:
    """How the rows are ordered; nothing for a single one that nothing ranks."""
    if prefer:
        fronts = "the trade-off fronts of " if len(prefer) > 1 else ""
        return [f"ranked by {fronts}{wishes(prefer)}, those inside every limit first"]
    return ["not ranked: use your ears"] if count > 1 else []


def wishes(prefer: Sequence[Preference]) -> str:
    """crest highest, mono loss lowest"""
    return ", ".join(f"{quantity_of(p.key).name} {'highest' if p.highest else 'lowest'}" for p in prefer)


def _listed(ids: Sequence[str]) -> str:
    return ", ".join(ids) if len(ids) <= 6 else f"{', '.join(ids[:5])} and {len(ids) - 5} others"
