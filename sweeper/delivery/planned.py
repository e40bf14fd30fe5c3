"""Prints that are to be made, seen ahead: what comes out over its ceiling, and the variant made anew for it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from sweeper.delivery.ceiling import excess_db
from sweeper.delivery.kept import Ceiling, Kept
from sweeper.delivery.orders import Ahead, PrintOrder
from sweeper.errors import AudioFileError, OverCeiling
from sweeper.workers import Failed, Pool, Task, value_of

AHEAD = "sweeper.delivery.looking_ahead:look_ahead"
#: Makes the variant anew with its true peak at most so high, in dBTP; the new one.
SolveAgain = Callable[[Kept, float], Kept]
MOST_ROUNDS = 3
#: So much lower than would be just enough.
ROOM_DB = 0.01


@dataclass(frozen=True)
class Planned:
    """A print to be made. kept: what of."""

    order: PrintOrder
    ceiling: Ceiling
    kept: Kept


@dataclass(frozen=True)
class Looked(Planned):
    """The same, with what comes out before words are made."""

    ahead: Ahead

    @property
    def excess_db(self) -> float:
        """By how much it is over its ceiling; 0.0 where it is not."""
        return excess_db(self.ahead, self.ceiling.dbtp)


def looked_ahead(planned: Sequence[Planned], pool: Pool) -> list[Looked]:
    """Each with what comes out, in order. Raises AudioFileError, PrintError."""
    tasks = [Task(str(n), AHEAD, one.order, one.order.spec.name) for n, one in enumerate(planned)]
    aheads = [value_of(outcome, Ahead, _not_looked) for outcome in pool.map_in_order(tasks)]
    return [Looked(one.order, one.ceiling, one.kept, ahead) for one, ahead in zip(planned, aheads, strict=True)]


def _not_looked(failed: Failed) -> AudioFileError:
    return AudioFileError(f"looking at the render {failed.what}", "try again")


def refuse_over(looked: Sequence[Looked]) -> None:
    """Raises OverCeiling where any is over its ceiling."""
    over = [
        f"{one.order.spec.name} would have {one.ahead.true_peak_dbtp:.2f} dBTP, {one.excess_db:.2f} dB over "
        f"{one.ceiling.dbtp:g} dBTP ({one.ceiling.why})"
        for one in looked
        if one.excess_db
    ]
    if over:
        raise OverCeiling(
            f"over the ceiling: {'; '.join(over)}; nothing is printed",
            "--over trim turns it down by so much, --over solve makes the variant anew",
        )


def solved_again(looked: Sequence[Looked], solve: SolveAgain, pool: Pool) -> list[Looked]:
    """All of them under their ceilings: what is over is made of the variant anew, as often as that takes.

    The new true peak is the old one less what was over. Raises OverCeiling, and what `solve` raises.
    """
    now = list(looked)
    for _ in range(MOST_ROUNDS):
        over = [n for n, one in enumerate(now) if one.excess_db]
        if not over:
            return now
        goal_dbtp = min(_true_peak_dbtp(now[n].kept) - now[n].excess_db for n in over) - ROOM_DB
        again = solve(looked[0].kept, round(goal_dbtp, 2))
        renewed = looked_ahead([_made_of(again, now[n]) for n in over], pool)
        for n, one in zip(over, renewed, strict=True):
            now[n] = one
    if any(one.excess_db for one in now):
        raise OverCeiling(
            f"solved {MOST_ROUNDS} times, a print still comes out over its ceiling",
            "lower the true peak in the chain file and run that, or print with --over trim",
        )
    return now


def _true_peak_dbtp(kept: Kept) -> float:
    """Of the render, which has one: silence is over no ceiling."""
    value = kept.sheet.measurements["true_peak_dbtp"]
    assert isinstance(value, int | float)
    return float(value)


def _made_of(kept: Kept, one: Planned) -> Planned:
    labels = replace(one.order.labels, reference=kept.sheet.id)
    order = replace(one.order, render=kept.render, audio_sha256=kept.sheet.audio_sha256, labels=labels)
    return Planned(order, one.ceiling, kept)
