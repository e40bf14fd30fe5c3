"""The tree of steps: variants that agree up to a stage share everything before it.

A step is one stage applied to one input. Its key hashes its recipe: its parent's key (at the root the mix's audio)
and everything that decides what the stage does. Bypassed stages are no steps. From the first stage that a reach
turns, a variant's stages are its own: they are rendered once a pass and are not in the tree.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from sweeper.chain.model import Number, Travel
from sweeper.host.setup import Dialled, RideSetup, StageSetup, grouped
from sweeper.plan.variants import Variant
from sweeper.units import folded


@dataclass(frozen=True)
class Facts:
    """What a step's key rests on besides its settings.

    sources: each mix's audio hash, in the chain's order. programs: plugin path -> hash of its code, or the version of
    the library that holds it. states: path of a state file -> hash of its content. block_frames: what plugins are
    given at a time. sound_version: counts our own changes of sound. returned: what came back from outside: the key that
    `outside_name` gives -> its audio hash.
    """

    sources: tuple[str, ...]
    programs: Mapping[str, str]
    states: Mapping[str, str]
    block_frames: int
    sound_version: int
    returned: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Step:
    """One stage applied to one input. parent: the step whose output it takes; "" = the mix itself.

    variant, covered: a variant that has it, and how many of that variant's stages, bypassed ones counted, lie behind
    its output. depth: how many steps lead to its output, itself included.
    setups: the stage that it applies; all stages of all buses together are one step.
    """

    key: str
    parent: str
    mix: int
    variant: str
    covered: int
    depth: int
    setups: tuple[StageSetup, ...]


@dataclass(frozen=True)
class Path:
    """A variant's way through the tree. mix: its number. steps: the keys of its shared steps, from the mix on, or from
    what came back from outside last.

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
    recipes: dict[tuple[StageSetup, ...], str] = {}
    for variant in found:
        keys: list[str] = []
        way = tuple(applied(variant, facts, recipes))
        first = max((number for number, one in enumerate(way) if one.is_back), default=0)
        for one in way[first:]:
            if one.key not in steps:
                before = keys[-1] if keys else ""
                steps[one.key] = Step(one.key, before, variant.mix, variant.id, one.covered, len(keys) + 1, one.setups)
            keys.append(one.key)
        paths[variant.id] = Path(variant.mix, tuple(keys), len(grouped(variant.stages)) - len(way))
    return Tree(steps, paths)


@dataclass(frozen=True)
class WayStep:
    """A step of one variant. key_before: of what it is applied to. covered: as in `Step`.

    is_back: it is a stage outside, and what it made has come back.
    """

    key_before: str
    key: str
    covered: int
    setups: tuple[StageSetup, ...]
    is_back: bool


def applied(variant: Variant, facts: Facts,
            recipes: dict[tuple[StageSetup, ...], str] | None = None) -> Iterator[WayStep]:  # fmt: skip
    """Every shared step of a variant, from the mix on. recipes: those made so far."""
    recipes = {} if recipes is None else recipes
    first_turned = min((turn.stage for turn in variant.turns), default=len(variant.stages))
    before = _root(facts, variant.mix)
    for numbers in grouped(variant.stages):
        if numbers[-1] >= first_turned:
            return
        setups = tuple(variant.stages[number] for number in numbers)
        if setups not in recipes:
            recipes[setups] = recipe(setups, facts)
        back = facts.returned.get(outside_name(setups[0], before), "") if setups[0].outside else ""
        key = step_key(before, recipes[setups], back)
        yield WayStep(before, key, numbers[-1] + 1, setups, bool(back))
        before = key


def step_key(before: str, made_by: str, returned: str = "") -> str:
    """The key of a step. made_by: its recipe. returned: the hash of what came back, for a stage outside."""
    return _hashed([before, made_by, returned] if returned else [before, made_by])


def outside_name(setup: StageSetup, before: str) -> str:
    """What one sending out is known by. before: the key of what is sent."""
    return f"{setup.name} {before}"


def recipe(setups: Sequence[StageSetup], facts: Facts) -> str:
    """Everything that decides what a step does to its input, as text that is equal for equal steps.

    setups: one stage, or those of all buses.
    """
    buses = list(dict.fromkeys(setup.bus for setup in setups))
    if buses == [""]:
        return json.dumps(_of_stage(setups[0], facts))
    return json.dumps([[buses.index(setup.bus), *_of_stage(setup, facts)] for setup in setups])


def _of_stage(setup: StageSetup, facts: Facts) -> list[object]:
    """Everything that decides what one stage does to its input.

    What it does without leaves no trace, so that runs and renders from before sweeper knew of it can be gone on with.
    """
    parts: list[object] = [
        facts.programs[setup.path] if setup.path else "",
        facts.states[str(setup.state)] if setup.state else "",
        setup.channels.value,
        [setup.input_trim_db, setup.output_trim_db],
        [_setting(dialled) for dialled in setup.settings],
    ]
    latency = setup.latency
    more = {
        "outside": [setup.outside, setup.name] if setup.outside else None,
        "blend": setup.blend if setup.blend != 1 else None,
        "latency": [latency.value, latency.unit] if latency else None,
        "tail_s": setup.tail_s or None,
        "inverted": setup.inverted or None,
        "rides": [_ride(ride) for ride in setup.rides] or None,
    }
    used = [[name, value] for name, value in more.items() if value is not None]
    return [*parts, used] if used else parts


def _ride(ride: RideSetup) -> list[object]:
    made = _setting(Dialled(ride.setting, ride.side, ride.amount))
    return [*made, ride.relative, ride.spans_s, ride.ramp_s]


def variant_key(variant: Variant, facts: Facts) -> str:
    """A key for all that a variant renders, what its reaches turn included."""
    recipes = [recipe([variant.stages[n] for n in numbers], facts) for numbers in grouped(variant.stages)]
    turned = [[turn.stage, folded(turn.setting), turn.side, *filter(None, [turn.ride])] for turn in variant.turns]
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
