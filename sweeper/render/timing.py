"""How fast a chain runs here, tried on noise."""

from __future__ import annotations

from collections.abc import Sequence

from sweeper.errors import PluginError
from sweeper.plan.variants import Variant
from sweeper.render.job import BLOCK_FRAMES
from sweeper.render.orders import Measured, TimeOrder
from sweeper.workers import Cause, Failed, Pool, Task

NOISE_S = 10.0


def timed(found: Sequence[Variant], mixes: Sequence[Measured], pool: Pool, patience_s: float) -> list[float]:
    """Seconds of work for each second of audio, of each mix's first variant, by ten seconds of noise.

    Raises PluginError when the chain fails.
    """
    tasks = []
    for number, mix in enumerate(mixes):
        variant = next(v for v in found if v.mix == number)
        order = TimeOrder(variant.stages, mix.file.format, NOISE_S, BLOCK_FRAMES, patience_s)
        tasks.append(Task(str(number), "sweeper.render.file_tasks:time_chain", order, "the chain on noise"))
    speeds = []
    for outcome in pool.map_in_order(tasks):
        if isinstance(outcome, Failed):
            if outcome.cause is Cause.ERROR and outcome.error is not None:
                raise outcome.error
            raise PluginError(f"the chain {outcome.what}, on noise", "bypass the stage, or take it out")
        assert isinstance(outcome.value, float)
        speeds.append(outcome.value / NOISE_S)
    return speeds
