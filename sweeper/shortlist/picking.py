"""Picking the few worth hearing, so that each is another choice. Pure: renders nothing, hears nothing."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum

from sweeper.verdict.front import Merits


class Part(Enum):
    """What a picked variant is there for."""

    BEST = "best"
    BETWEEN = "between"
    NEXT = "next"
    FILLED = "filled up"


@dataclass(frozen=True)
class Entry:
    """A variant that fits. merits: one for each preference, the smaller the better. front: as `Place` has it."""

    id: str
    merits: Merits
    front: int | None


@dataclass(frozen=True)
class Pick:
    """A variant that is picked. best: the numbers of the preferences in which none is better.

    after_twins: whether others were passed over for near-duplicates since the pick before.
    """

    id: str
    part: Part
    best: tuple[int, ...] = ()
    after_twins: bool = False


@dataclass(frozen=True)
class Picked:
    """What was picked, in the order of picking. passed: (whom, as a near-duplicate of whom), in that order too."""

    picks: tuple[Pick, ...]
    passed: tuple[tuple[str, str], ...]

    @property
    def different(self) -> int:
        """How many different choices are among them."""
        return sum(pick.part is not Part.FILLED for pick in self.picks)


def pick(entries: Sequence[Entry], keep: int, alike: Callable[[str, str], bool]) -> Picked:
    """The best `keep` that are no near-duplicates of each other; filled up with the best of those where there are less.

    entries: in the order of their rank. With several preferences the best in each comes first, then what is furthest on
    the trade-off front from all that is picked, then the fronts behind it in order of rank. alike: whether the second
    is a near-duplicate of the first, which is picked.
    """
    left, picks, passed = list(entries), list[Pick](), list[tuple[str, str]]()
    by_id = {entry.id: entry for entry in entries}
    leaders = _leaders(entries)
    since = False
    while left and len(picks) < keep:
        one, part = _next(left, leaders, [by_id[pick.id] for pick in picks], entries)
        left.remove(one)
        twin = next((pick.id for pick in picks if alike(pick.id, one.id)), None)
        if twin is None:
            best = tuple(n for n, leader in enumerate(leaders) if leader is one)
            picks.append(Pick(one.id, part, best, since))
        else:
            passed.append((one.id, twin))
        since = twin is not None
    order = {entry.id: place for place, entry in enumerate(entries)}
    twins = sorted((id for id, _ in passed), key=lambda id: order[id])
    picks += [Pick(id, Part.FILLED) for id in twins[: keep - len(picks)]]
    return Picked(tuple(picks), tuple(passed))


def _leaders(entries: Sequence[Entry]) -> list[Entry | None]:
    """Of each preference the best, the better ranked of equals; None where nobody has a measurement.

    Only of those that lack nothing, where there are such: they make up the first front.
    """
    leading = [entry for entry in entries if entry.front in (None, 1)]
    if not leading:
        return []
    columns = [[entry.merits[number] for entry in leading] for number in range(len(leading[0].merits))]
    return [leading[column.index(min(column))] if math.isfinite(min(column)) else None for column in columns]


def _next(left: Sequence[Entry], leaders: Sequence[Entry | None], picked: Sequence[Entry],
          entries: Sequence[Entry]) -> tuple[Entry, Part]:  # fmt: skip
    """Who comes next of those left, in the order of their rank."""
    for leader in leaders:
        if leader in left and leader is not None:
            return leader, Part.BEST
    front = [entry for entry in left if entry.front == 1]
    if not front or not picked:
        return left[0], Part.NEXT
    spans = _spans([entry for entry in entries if entry.front == 1])
    return max(front, key=lambda entry: min(_apart(entry, other, spans) for other in picked)), Part.BETWEEN


def _spans(front: Sequence[Entry]) -> list[float]:
    """How far each merit goes on the front."""
    columns = [[merit for merit in column if math.isfinite(merit)]
               for column in zip(*(entry.merits for entry in front), strict=True)]  # fmt: skip
    return [max(column) - min(column) if column else 0.0 for column in columns]


def _apart(one: Entry, other: Entry, spans: Sequence[float]) -> float:
    """The distance of two in the preferences, each in shares of its span on the front."""
    total = 0.0
    for ours, theirs, span in zip(one.merits, other.merits, spans, strict=True):
        if math.isfinite(ours) and math.isfinite(theirs):
            total += ((ours - theirs) / span) ** 2 if span else 0.0
        elif ours != theirs:
            total += 1.0
    return math.sqrt(total)
