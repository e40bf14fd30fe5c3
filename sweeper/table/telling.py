"""What an exploration is told of the variants: their rows as numbers to get low, and as distances from what must be."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sweeper.chain.model import Chain
from sweeper.chain.own_chain import each_chain
from sweeper.plan.reach import Ending
from sweeper.plan.told import Told
from sweeper.table.row import Row, has_none

#: What is broken or missed is away by this at least, and what cannot be judged by as much as this. Ours.
LEAST_AWAY, NOT_JUDGED = 1e-6, 1.0


def told_of(chain: Chain, rows: Iterable[Row]) -> dict[str, Told]:
    """What came of every variant, by id."""
    chains = dict(zip((mix.written for mix in chain.mixes), each_chain(chain), strict=True))
    return {row.id: _told(chains[row.mix], row) for row in rows}


def _told(chain: Chain, row: Row) -> Told:
    if row.measurements is None:
        return Told((None,) * len(chain.prefer), (0.0,) * (len(chain.limits) + len(chain.reach)), failed=True)
    found = [(row.measurements.compared(wish.key), wish.highest) for wish in chain.prefer]
    values = tuple(value if value is None or not highest else -value for value, highest in found)
    away = tuple(_from_limits(row)), tuple(_from_targets(chain, row))
    landed = all(solved.ending.teaches for solved in row.solved)
    return Told(values, (*away[0], *away[1]), landed=landed)


def _from_limits(row: Row) -> Iterator[float]:
    """How far past each limit, in its unit."""
    for verdict in row.verdicts:
        if verdict.met is None:
            yield 0.0 if has_none(verdict) else NOT_JUDGED
        else:
            yield 0.0 if verdict.met or verdict.margin is None else max(LEAST_AWAY, -verdict.margin)


def _from_targets(chain: Chain, row: Row) -> Iterator[float]:
    """How far from each target that is out of reach, in its tolerances."""
    for reach, solved in zip(chain.reach, row.solved, strict=True):
        if solved.ending is not Ending.OUT_OF_REACH:
            yield 0.0
        else:
            away = NOT_JUDGED if solved.value is None else abs(solved.value - solved.goal) / reach.within
            yield max(LEAST_AWAY, away)
