"""Variants and facts without plugins, for tests of plans."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from pathlib import Path

from sweeper.chain.model import Channels, Travel
from sweeper.host.setup import Dialled, StageSetup
from sweeper.plan.reach_terms import Direction
from sweeper.plan.tree import Facts
from sweeper.plan.variants import Turn, Variant

NAMES = "abcdefgh"
FACTS = Facts(("a mix",), {f"{name}.vst3": f"build of {name}" for name in (*NAMES, "other")},
              {"other.vstpreset": "a state", "": ""}, 1024, 1)  # fmt: skip


def dialled(raw: float) -> Dialled:
    return Dialled("Amount", "", Travel(raw, f"{raw}"), raw)


def setup(name: str, raw: float = 0.5, state: Path | None = None) -> StageSetup:
    return StageSetup(name, f"{name}.vst3", state, Channels.STEREO, (dialled(raw),))


def grid(sizes: Sequence[int], slowest_last: bool = False) -> list[Variant]:
    """Every combination of `sizes[n]` settings of stage n. slowest_last: the first stage's setting changes fastest."""
    ways = [range(size) for size in (reversed(sizes) if slowest_last else sizes)]
    found = []
    for number, place in enumerate(itertools.product(*ways), 1):
        values = tuple(reversed(place)) if slowest_last else place
        stages = tuple(setup(name, value / 8) for name, value in zip(NAMES, values, strict=False))
        found.append(Variant(f"{number:04d}", 0, {}, stages, (), (0, *place)))
    return found


def solving(sizes: Sequence[int], solved: int) -> list[Variant]:
    """The same with a reach that turns stage number `solved`."""
    turn = Turn(solved, "Drive", "", Direction.RAISE, f"{NAMES[solved]}.drive")
    return [Variant(v.id, v.mix, v.varied, v.stages, (turn,), v.place) for v in grid(sizes)]
