"""The tasks that a tree of steps comes to, what each needs, and how many steps they render."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sweeper.plan.storing import Storing
from sweeper.plan.tree import Tree

STEP_TASK = "step "


@dataclass(frozen=True)
class Count:
    """Steps of a run. predicted: None when a reach decides how many passes it takes.

    single: rendered when every reach takes one pass. unshared: the same with every variant rendered whole from its mix.
    found: steps that were in the store before and are used.
    """

    predicted: int | None
    single: int
    unshared: int
    found: int


def step_task(key: str) -> str:
    """The name of the task that renders and stores a step."""
    return STEP_TASK + key[:16]


def nearest(steps: tuple[str, ...], starts: frozenset[str] | set[str]) -> int:
    """How many of a path's steps lie behind the last one that is in `starts`; 0 = none is."""
    return next((depth for depth in range(len(steps), 0, -1) if steps[depth - 1] in starts), 0)


def path_to(tree: Tree, key: str) -> tuple[str, ...]:
    """The steps from the mix to one step, itself included."""
    found = [key]
    while parent := tree.steps[found[-1]].parent:
        found.append(parent)
    return tuple(reversed(found))


def needs(tree: Tree, storing: Storing, teachers: Mapping[str, str | None]) -> dict[str, tuple[str, ...]]:
    """Every task in the order it is wanted, with the tasks it waits for. Variants go by id."""
    found: dict[str, tuple[str, ...]] = {}
    for id in tree.depth_first():
        path = tree.paths[id]
        for depth, key in enumerate(path.steps):
            if key in storing.used_again and step_task(key) not in found:
                found[step_task(key)] = _stored_before(path.steps[:depth], storing)
        teacher = teachers.get(id)
        taught = (teacher,) if teacher in tree.paths else ()
        found[id] = (*_stored_before(path.steps, storing), *(t for t in taught if t))
    return found


def _stored_before(steps: tuple[str, ...], storing: Storing) -> tuple[str, ...]:
    depth = nearest(steps, storing.starts)
    return (step_task(steps[depth - 1]),) if depth and steps[depth - 1] in storing.used_again else ()


def count(tree: Tree, storing: Storing) -> Count:
    """The steps that all tasks together render."""
    single = 0
    for key in storing.used_again:
        way = path_to(tree, key)
        single += len(way) - nearest(way[:-1], storing.starts)
    starts = {id: nearest(path.steps, storing.starts) for id, path in tree.paths.items()}
    single += sum(path.length - starts[id] for id, path in tree.paths.items())
    solved = any(path.own for path in tree.paths.values())
    used = {path.steps[starts[id] - 1] for id, path in tree.paths.items() if starts[id]}
    behind = {key for start in used & storing.there for key in path_to(tree, start)}
    unshared = sum(path.length for path in tree.paths.values())
    return Count(None if solved else single, single, unshared, len(behind))
