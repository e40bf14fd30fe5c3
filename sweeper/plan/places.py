"""Which stages are in, and in which order."""

from __future__ import annotations

from sweeper.chain.model import Chain
from sweeper.chain.sequence import Order


def inserts_in_order(chain: Chain, order: Order) -> tuple[int, ...]:
    """The numbers of the chain's stages as one order of its `sequence` has them, the output stages included.

    Inserts named in any order may move: the k-th of this order takes the place of the k-th of them in the file, and
    places left over stay empty.
    """
    movable = {name for each in chain.sequence for name in each}
    numbers = {stage.name: number for number, stage in enumerate(chain.stages)}
    coming = iter(order)
    placed = (next(coming, None) if stage.name in movable else stage.name for stage in chain.stages)
    return tuple(numbers[name] for name in placed if name is not None)
