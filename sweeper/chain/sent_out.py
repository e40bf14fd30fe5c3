"""Which stage outside the machine hears another stage, in whatever order the chain has them."""

from __future__ import annotations

from sweeper.chain.model import Stage
from sweeper.chain.sequence import Order, in_place


def outside_after(
    stage: Stage, stages: tuple[Stage, ...], sequence: tuple[Order, ...], unbypassed: frozenset[str]
) -> Stage | None:
    """The first stage outside that would hear `stage`, in any of the orders; None where none would.

    stages: all of the chain; on its buses none is outside.
    unbypassed: names of stages whose bypass is varied, so that they are heard once at least.
    """
    for order in sequence or ((),):
        after = _after(stage, [stages[number] for number in in_place(stages, sequence, order)])
        for each in after:
            if each.outside and (not each.bypass or each.name in unbypassed):
                return each
    return None


def _after(stage: Stage, stages: list[Stage]) -> list[Stage]:
    """The stages that hear `stage`, all behind it, and buses that do not; none where the order leaves it out."""
    return stages[stages.index(stage) + 1 :] if stage in stages else []
