"""A plan: the variants, the tree of their steps, what of it is stored, and who learns from whom."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sweeper.host.setup import grouped
from sweeper.plan.storing import Costs, Storing, choose
from sweeper.plan.teachers import teachers
from sweeper.plan.tree import Facts, Tree, tree
from sweeper.plan.variants import Variant
from sweeper.plan.work import Count, count, needs


@dataclass(frozen=True)
class Plan:
    """What is to be rendered. variants: those still to do, by id. teachers: of every variant of the run, done ones too.

    needs: every task in the order it is wanted, with the tasks that it waits for.
    """

    variants: Mapping[str, Variant]
    tree: Tree
    storing: Storing
    teachers: Mapping[str, str | None]
    needs: Mapping[str, tuple[str, ...]]
    count: Count

    def stages_behind(self, id: str, depth: int) -> int:
        """How many of a variant's stages, bypassed ones counted, lie behind the first `depth` of its steps."""
        groups, path = grouped(self.variants[id].stages), self.tree.paths[id]
        return groups[len(groups) - path.length + depth - 1][-1] + 1 if depth else 0


def planned(found: Sequence[Variant], left: Sequence[Variant], grown: Tree, costs: Costs, there: frozenset[str],
            limit_bytes: int, workers: int, taught_by: Mapping[str, str | None] | None = None) -> Plan:  # fmt: skip
    """The plan for what is `left` of all variants `found`. grown: the tree of those left.

    taught_by: who teaches whom; None = by `found`.
    """
    storing = choose(grown, costs, there, limit_bytes, workers)
    taught_by = teachers(found) if taught_by is None else taught_by
    return Plan({v.id: v for v in left}, grown, storing, taught_by, needs(grown, storing, taught_by),
                count(grown, storing))  # fmt: skip


__all__ = ["Facts", "Plan", "planned", "tree"]
