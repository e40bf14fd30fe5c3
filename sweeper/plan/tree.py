"""The tree of steps: variants that agree up to a stage share everything before it.

A step is one stage applied to one input. Its key hashes its recipe: its parent's key (at the root the mix's audio)
and everything that decides what the stage does. Bypassed stages are no steps. From the first stage that a reach
turns, a variant's stages are its own: they are rendered once a pass and are not in the tree.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from sweeper.chain.model import Number, Travel
from sweeper.host.setup import Dialled, StageSetup
from sweeper.plan.variants import Variant
from sweeper.units import folded


@dataclass(frozen=True)
class Facts:
    """What a step's key rests on besides its settings.

    sources: each mix's audio hash, in the chain's order. programs: plugin path -> hash of its code, or the version of
    the library that holds it. states: path of a state file -> hash of its content. block_frames: what plugins are
    given at a time. sound_version: counts our own changes of sound.
    """

    sources: tuple[str, ...]
    programs: Mapping[str, str]
    states: Mapping[str, str]
    block_frames: int
    sound_version: int


@dataclass(frozen=True)
class Step:
    """One stage applied to one input. parent: the step whose output it takes; "" = the mix itself.

    variant, covered: a variant that has it, and how many of that variant's stages, bypassed ones counted, lie behind
    its output. depth: how many steps lead to its output, itself included.
    """

    key: str
    parent: str
    mix: int
    variant: str
    covered: int
    depth: int
    setup: StageSetup


@dataclass(frozen=True)
class Path:
    """A variant's way through the tree. mix: its number. steps: the keys of its shared steps, from the mix on.

    own: how many steps follow that only it has, rendered once a pass; 0 = nothing is solved.
    """

    mix: int
    steps: tuple[str, ...]
    own: int

    @property
    def length(self) -> int:
        """Steps of one full render."""
        return len(self.steps) + self.own


@dataclass(frozen=True)
class Tree:
    """Every step by key, parents before children, and every variant's path by id."""

    steps: Mapping[str, Step]
    paths: Mapping[str, Path]

    @cached_property
    def children(self) -> Mapping[str, tuple[str, ...]]:
        """Step -> the steps that take its output."""
        found: dict[str, list[str]] = {key: [] for key in self.steps}
        for step in self.steps.values():
            if step.parent:
                found[step.parent].append(step.key)
        return {key: tuple(keys) for key, keys in found.items()}

    @cached_property
    def ending(self) -> Mapping[str, tuple[str, ...]]:
        """Step -> the variants whose shared part ends with it."""
        found: dict[str, list[str]] = {key: [] for key in self.steps}
        for id, path in self.paths.items():
            if path.steps:
                found[path.steps[-1]].append(id)
        return {key: tuple(ids) for key, ids in found.items()}

    def depth_first(self) -> tuple[str, ...]:
        """The variants so that those which share most stand together, else in their own order."""
        first: dict[tuple[str, ...], int] = {}
        for place, path in enumerate(self.paths.values()):
            for depth in range(len(path.steps) + 1):
                first.setdefault(path.steps[:depth], place)

        def rank(id: str) -> tuple[int, tuple[int, ...]]:
            path = self.paths[id]
            return path.mix, tuple(first[path.steps[:depth]] for depth in range(1, len(path.steps) + 1))

        return tuple(sorted(self.paths, key=rank))


def tree(found: Sequence[Variant], facts: Facts) -> Tree:
    """The tree of a set of variants."""
    steps: dict[str, Step] = {}
    paths: dict[str, Path] = {}
    recipes: dict[StageSetup, str] = {}
    roots = tuple(_root(facts, number) for number in range(len(facts.sources)))
    for variant in found:
        first_turned = min((turn.stage for turn in variant.turns), default=len(variant.stages))
        parent, own = roots[variant.mix], 0
        keys: list[str] = []
        for number, setup in enumerate(variant.stages):
            if setup.bypass:
                continue
            if number >= first_turned:
                own += 1
                continue
            if setup not in recipes:
                recipes[setup] = recipe(setup, facts)
            key = _hashed([parent, recipes[setup]])
            if key not in steps:
                before = keys[-1] if keys else ""
                steps[key] = Step(key, before, variant.mix, variant.id, number + 1, len(keys) + 1, setup)
            keys.append(key)
            parent = key
        paths[variant.id] = Path(variant.mix, tuple(keys), own)
    return Tree(steps, paths)


def recipe(setup: StageSetup, facts: Facts) -> str:
    """Everything that decides what a stage does to its input, as text that is equal for equal stages."""
    return json.dumps([
        facts.programs[setup.path],
        facts.states[str(setup.state)] if setup.state else "",
        setup.channels.value,
        [setup.input_trim_db, setup.output_trim_db],
        [_setting(dialled) for dialled in setup.settings],
    ])  # fmt: skip


def variant_key(variant: Variant, facts: Facts) -> str:
    """A key for all that a variant renders, what its reaches turn included."""
    recipes = [recipe(setup, facts) for setup in variant.stages if not setup.bypass]
    turned = [[turn.stage, folded(turn.setting), turn.side] for turn in variant.turns]
    return _hashed([_root(facts, variant.mix), recipes, turned])


def _setting(dialled: Dialled) -> list[object]:
    """A setting by what it comes to: its position, or its number; by its text only where it has neither."""
    value, made = dialled.value, dialled.raw
    if made is None and isinstance(value, Number):
        return [folded(dialled.name), dialled.side, [value.value, value.unit]]
    if made is None and isinstance(value, Travel):
        return [folded(dialled.name), dialled.side, [value.fraction, "% travel"]]
    return [folded(dialled.name), dialled.side, value.text if made is None else made]


def _root(facts: Facts, mix: int) -> str:
    return _hashed([facts.sources[mix], facts.block_frames, facts.sound_version])


def _hashed(recipe: object) -> str:
    return hashlib.sha256(json.dumps(recipe).encode()).hexdigest()
