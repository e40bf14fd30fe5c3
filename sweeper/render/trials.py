"""Every stage tried on noise before a run: whether its delay is what it says, and whether it behaves."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from sweeper.audio import AudioFormat
from sweeper.errors import PluginError
from sweeper.host.setup import StageSetup
from sweeper.plan.variants import Variant
from sweeper.render.orders import Measured
from sweeper.render.trial_orders import TrialOrder, Tried
from sweeper.workers import Failed, Pool, Task, value_of

#: A stage by its name, and its label among its alternatives.
StageKey = tuple[str, str]


def trials(found: Sequence[Variant], mixes: Sequence[Measured], pool: Pool, block_frames: int,
           patience_s: float) -> dict[StageKey, Tried]:  # fmt: skip
    """What noise shows of every stage that has a plugin here, each set as the first variant that has it sets it.

    Raises PluginError, or what else ended the trial, for a stage that fails.
    """
    orders: dict[StageKey, TrialOrder] = {}
    for variant in found:
        format = mixes[variant.mix].file.format
        for setup in heard(variant):
            if setup.path:
                order = TrialOrder(setup, AudioFormat(format.channels, format.rate_hz), block_frames, patience_s)
                orders.setdefault(key_of(setup), order)
    tasks = [Task(f"trial {number}", "sweeper.render.trial:try_stage", order, f"'{order.setup.name}' on noise")
             for number, order in enumerate(orders.values())]  # fmt: skip
    outcomes = zip(orders, tasks, pool.map_in_order(tasks), strict=True)
    return {key: value_of(outcome, Tried, partial(ended, task)) for key, task, outcome in outcomes}


def heard(variant: Variant) -> tuple[StageSetup, ...]:
    """The stages of a variant that can be rendered here and are heard, faders among them."""
    return tuple(setup for setup in variant.stages if not setup.bypass and not setup.outside)


def key_of(setup: StageSetup) -> StageKey:
    """Which stage of the chain file it is."""
    return setup.name, setup.label


def ended(task: Task, failed: Failed) -> Exception:
    """What to raise where a stage's trial came to an end that does not speak for itself."""
    return failed.error or PluginError(f"{task.where}: it {failed.what}", "bypass the stage, or take it out")
