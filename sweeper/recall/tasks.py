"""Single tasks for a worker, and what comes of them."""

from __future__ import annotations

from pathlib import Path

from sweeper.errors import PluginError
from sweeper.recall.orders import BehindOrder, Kept, LookOrder, StandingOrder
from sweeper.records import StageRecord
from sweeper.workers import Pool, Task, value_of


def one_task(pool: Pool, function: str, argument: object, where: str) -> object:
    """What one call in a worker gives back. Raises its error, or PluginError when its worker ended."""
    (outcome,) = pool.map_in_order([Task("recall", function, argument, where)])
    return value_of(outcome, object, lambda failed: PluginError(
        f"{where} {failed.what}", "open the plugin once in another host, and see whether it runs there"))  # fmt: skip


def put_back(order: StandingOrder, pool: Pool) -> Kept:
    """Which of the controls stay where they are put, tried in a worker. Raises PluginError as `one_task` does."""
    kept = one_task(pool, "sweeper.recall.standing:put_back", order, "setting every control as it stood")
    assert isinstance(kept, Kept)
    return kept


def looked_at(order: LookOrder, pool: Pool) -> tuple[StageRecord, ...]:
    """How stages stand once they are loaded and set, in a worker. Raises PluginError as `one_task` does."""
    found = one_task(pool, "sweeper.recall.standing:look", order, "loading the plugins")
    assert isinstance(found, tuple)
    return found


def written_behind(order: BehindOrder, pool: Pool) -> tuple[Path, ...]:
    """Files with what stages give, rendered in a worker. Raises PluginError as `one_task` does."""
    files = one_task(pool, "sweeper.recall.behind:write_behind", order, "rendering stage by stage")
    assert isinstance(files, tuple)
    return files
