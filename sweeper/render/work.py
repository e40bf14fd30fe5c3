"""Counting steps: one stage applied to one input."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass

from sweeper.plan.variants import Variant


@dataclass(frozen=True)
class Work:
    """done: steps rendered. predicted: steps foreseen, None when a reach decides how many passes it takes.

    reused: steps taken from an earlier render. recomputed: steps whose result had been rendered before.
    """

    done: int
    predicted: int | None
    reused: int
    recomputed: int


def counted(found: Sequence[Variant], passes: Mapping[str, int], solved_stage: int | None) -> Work:
    """The steps of every variant, each rendered whole. passes: variant id -> its full renders.

    solved_stage: the number of the stage that a reach turns; its passes differ from there on.
    """
    done = 0
    distinct: set[Hashable] = set()
    for variant in found:
        for number in range(passes.get(variant.id, 0)):
            for depth, stage in enumerate(variant.stages):
                if stage.bypass:
                    continue
                done += 1
                turned = solved_stage is not None and depth >= solved_stage
                distinct.add((variant.mix, variant.stages[: depth + 1], (variant.id, number) if turned else ()))
    predicted = None
    if solved_stage is None:
        predicted = sum(not stage.bypass for variant in found for stage in variant.stages)
    return Work(done, predicted, 0, done - len(distinct))
