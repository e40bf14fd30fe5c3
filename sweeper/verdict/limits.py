"""Limits: what a variant must satisfy."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sweeper.chain.model import Condition
from sweeper.quantities import Measurements


@dataclass(frozen=True)
class Verdict:
    """One limit held against one measurement.

    met: None when there is no measurement to judge (reason says why). margin: how far inside the limit, in
    its unit; negative outside.
    """

    limit: str
    key: str
    met: bool | None
    margin: float | None
    reason: str = ""


def judge(limits: Sequence[Condition], measurements: Measurements) -> tuple[Verdict, ...]:
    """A verdict for each limit, in the file's order. A value exactly on the limit meets it."""
    return tuple(_judged(limit, measurements) for limit in limits)


def _judged(limit: Condition, measurements: Measurements) -> Verdict:
    value = measurements.compared(limit.key)
    if value is None:
        return Verdict(limit.text, limit.key, None, None, measurements.reasons.get(limit.key, "not measured"))
    margin = limit.value - value if limit.relation == "<=" else value - limit.value
    return Verdict(limit.text, limit.key, margin >= 0, margin)
