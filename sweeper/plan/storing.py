"""Which steps' output is worth storing: what is used again, and dear enough to render once more.

Storing everything makes a chain of fast stages slower than rendering each variant whole, so the time that a step
saves is held against the time that writing and reading it takes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sweeper.plan.tree import Tree

#: Rendering again from the last stored step has to take so many times longer than storing, for a step used again in
#: this run; and for one that only the next run may use, with another last stage.
WORTH, WORTH_LATER = 3.0, 10.0
#: How often a reach renders from its input, for what storing that is worth.
USUAL_PASSES = 3


@dataclass(frozen=True)
class Costs:
    """What rendering and storing take. step_s: seconds of each step, by key.

    store_s, size_bytes: of one stored step of each mix, by its number.
    """

    step_s: Mapping[str, float]
    store_s: Mapping[int, float]
    size_bytes: Mapping[int, int]


@dataclass(frozen=True)
class Storing:
    """there: steps in the store already. used_again: rendered and stored by themselves, as several tasks need them.

    passing: stored in passing while a variant is rendered, for the next run. peak_bytes: the most that `used_again`
    takes at one time. most_bytes: what all that is stored takes, if nothing leaves the store meanwhile.
    """

    there: frozenset[str]
    used_again: frozenset[str]
    passing: frozenset[str]
    peak_bytes: int
    most_bytes: int = 0

    @property
    def starts(self) -> frozenset[str]:
        """The steps from which a task may start."""
        return self.there | self.used_again


def choose(tree: Tree, costs: Costs, there: frozenset[str], limit_bytes: int, workers: int) -> Storing:
    """Which steps to store, so that what is needed at one time stays below the limit."""
    barred: set[int] = set()
    while True:
        used_again, passing, saved_s = _worth(tree, costs, there, barred) if limit_bytes else (set(), set(), {})
        peak_bytes = _peak_bytes(tree, used_again, costs, workers)
        if peak_bytes <= limit_bytes or not used_again:
            most_bytes = sum(costs.size_bytes[tree.steps[key].mix] for key in used_again | passing)
            return Storing(there, frozenset(used_again), frozenset(passing), peak_bytes, most_bytes)
        depths = {tree.steps[key].depth for key in used_again}
        barred.add(min(depths, key=lambda depth: _saved_for_a_byte(tree, used_again, saved_s, costs, workers, depth)))


def _saved_for_a_byte(tree: Tree, used_again: set[str], saved_s: Mapping[str, float], costs: Costs, workers: int,
                      depth: int) -> tuple[float, int]:  # fmt: skip
    """What storing the steps of one depth saves, for what it takes; of equal depths the earliest."""
    own = {key for key in used_again if tree.steps[key].depth == depth}
    return sum(saved_s[key] for key in own) / max(1, _peak_bytes(tree, own, costs, workers)), depth


def _worth(tree: Tree, costs: Costs, there: frozenset[str],
           barred: set[int]) -> tuple[set[str], set[str], dict[str, float]]:  # fmt: skip
    """(stored for this run, in passing for the next, seconds that each step saves); parents come before children.

    barred: depths of which nothing is stored.
    """
    used_again: set[str] = set()
    since_s: dict[str, float] = {}
    saved_s: dict[str, float] = {}
    last_but_one = {path.steps[-2] for path in tree.paths.values() if not path.own and len(path.steps) > 1}
    passing: set[str] = set()
    for key, step in tree.steps.items():
        since_s[key] = costs.step_s[key] + (since_s[step.parent] if step.parent else 0.0)
        if key in there:
            since_s[key] = 0.0
            continue
        uses, store_s = _uses(tree, key), costs.store_s[step.mix]
        saved_s[key] = since_s[key] * (uses - 1)
        if uses > 1 and since_s[key] > WORTH * store_s and step.depth not in barred:
            used_again.add(key)
            since_s[key] = 0.0
        elif key in last_but_one and since_s[key] > WORTH_LATER * store_s:
            passing.add(key)
    return used_again, passing, saved_s


def _uses(tree: Tree, key: str) -> int:
    """How many renders start from a step's output, if it is stored."""
    ending = [tree.paths[id] for id in tree.ending[key]]
    return len(tree.children[key]) + sum(USUAL_PASSES if path.own else 1 for path in ending)


def _peak_bytes(tree: Tree, used_again: set[str], costs: Costs, workers: int) -> int:
    """The most that is needed at one time: each worker holds one step of each depth, and makes the next."""
    by_depth: dict[int, list[int]] = {}
    for key in used_again:
        step = tree.steps[key]
        by_depth.setdefault(step.depth, []).append(costs.size_bytes[step.mix])
    return sum(sum(sorted(sizes, reverse=True)[: workers + 1]) for sizes in by_depth.values())
