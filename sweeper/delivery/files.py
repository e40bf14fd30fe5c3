"""Planned prints become files: looked at ahead, brought under their ceilings, printed side by side."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from sweeper.delivery.ceiling import Over, trim_db
from sweeper.delivery.orders import Printed
from sweeper.delivery.outcome import Print
from sweeper.delivery.planned import Looked, Planned, SolveAgain, looked_ahead, refuse_over, solved_again
from sweeper.errors import PrintError, SweeperError
from sweeper.workers import Failed, Pool, Task

PRINT = "sweeper.delivery.printing:print_file"


@dataclass(frozen=True)
class Files:
    """What was printed, in order, and the first that was not."""

    prints: tuple[Print, ...]
    failed: SweeperError | None


def print_files(
    planned: Sequence[Planned], over: Over, solve: SolveAgain | None, pool: Pool, begin: Callable[[], None]
) -> Files:
    """Print them all; one that fails costs no other.

    begin: is called once nothing more can be refused, before the first file is written.
    Raises PrintError, OverCeiling, AudioFileError before that.
    """
    looked = looked_ahead(planned, pool)
    if over is Over.STOP:
        refuse_over(looked)
    if over is Over.SOLVE and solve is not None:
        looked = solved_again(looked, solve, pool)
    looked = [_trimmed(one) for one in looked]
    begin()
    outcomes = pool.map_in_order(
        [Task(str(n), PRINT, one.order, one.order.target.name) for n, one in enumerate(looked)]
    )
    prints: list[Print] = []
    failed: SweeperError | None = None
    for one, outcome in zip(looked, outcomes, strict=True):
        if isinstance(outcome, Failed):
            failed = failed or _not_printed(one, outcome)
            continue
        assert isinstance(outcome.value, Printed)
        prints.append(Print(one.order, one.ceiling, one.ahead, outcome.value, one.kept))
    return Files(tuple(prints), failed)


def _not_printed(one: Looked, failed: Failed) -> SweeperError:
    if isinstance(failed.error, SweeperError):
        return failed.error
    return PrintError(f"printing {one.order.target.name} {failed.what}", "try again; nothing of it is left")


def _trimmed(one: Looked) -> Looked:
    gain_db = trim_db(one.ahead, one.ceiling.dbtp, one.order.spec)
    return replace(one, order=replace(one.order, gain_db=gain_db))
