"""How a variant stands against its targets and limits, in the words of the page and the report."""

from __future__ import annotations

from sweeper.plan.reach import Ending
from sweeper.quantities import quantity_of
from sweeper.render.job import Solved
from sweeper.table.row import Row, has_none
from sweeper.verdict import Verdict
from sweeper.verdict.order import PEAKS


def targets_of(row: Row, private: bool = True) -> list[dict[str, object]]:
    """Every reach: what was aimed at, whether it was met, and by how much it was missed.

    private: with what stopped it, which names stages, and with targets of single stages.
    """
    return [_target(one, private) for one in row.solved if private or "." not in one.key]


def limits_of(row: Row, private: bool = True) -> list[dict[str, object]]:
    """Every limit, whether it is kept, and the margin. kept: None when it could not be judged."""
    return [_limit(verdict) for verdict in row.verdicts if private or "." not in verdict.key]


def _target(solved: Solved, private: bool) -> dict[str, object]:
    quantity = quantity_of(solved.key)
    bound = "at most " if solved.key in PEAKS else ""
    off = None if solved.value is None else solved.value - solved.goal
    digits = 1 if quantity.decimals < 1 else 2
    return {
        "text": f"{quantity.name} {bound}{solved.goal:g} {quantity.unit}".rstrip(),
        "met": not solved.missed,
        "off": "" if off is None else f"{round(off, digits) + 0.0:+.{digits}f} {quantity.difference_unit}".rstrip(),
        "ending": "" if solved.ending is Ending.ON_TARGET else solved.ending.value,
        "why": solved.why if private else "",
    }  # fmt: skip


def _limit(verdict: Verdict) -> dict[str, object]:
    unit = quantity_of(verdict.key).difference_unit
    margin = verdict.reason if verdict.margin is None else f"{round(verdict.margin, 2) + 0.0:+.2f} {unit}".rstrip()
    return {"text": verdict.limit, "kept": True if has_none(verdict) else verdict.met, "margin": margin}
