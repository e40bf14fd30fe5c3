"""Whether every stage gives the same twice, tried on a stretch of the mix, and remembered for the sheets of runs."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

from sweeper.errors import RunFolderError
from sweeper.host.setup import StageSetup
from sweeper.plan.tree import Facts, recipe
from sweeper.plan.variants import Variant
from sweeper.render.orders import Measured
from sweeper.render.trial_orders import Repeats, Residual, TwiceOrder
from sweeper.render.trials import StageKey, ended, heard, key_of
from sweeper.render.writing import write_whole
from sweeper.workers import Pool, Task, value_of

FLOORS_NAME = "repeats.json"
#: How much of the mix is rendered: enough for detectors, and for what changes only now and then to show.
STRETCH_S = 6.0
#: Gives a pool of one worker in which nothing was loaded yet.
FreshPool = Callable[[], Pool]


@dataclass(frozen=True)
class Repeated:
    """stages: each stage, by name and label, at its worst. whole: the chain of the first variant.

    trouble: why it will not be remembered, "" where it is, or was not to be.
    """

    stages: Mapping[StageKey, Repeats]
    whole: Repeats
    trouble: str = ""


def repeats(found: Sequence[Variant], mixes: Sequence[Measured], facts: Facts, folder: Path | None, block_frames: int,
            patience_s: float, fresh: FreshPool) -> Repeated:  # fmt: skip
    """Render six loud seconds of every stage's own input twice in one process, and once more in a fresh one.

    Rendered are as few variants as have every stage, the first among them. folder: where the floors are remembered,
    None = nowhere. Raises AudioFileError, PluginError, or what else ended a task.
    """
    stages: dict[StageKey, Repeats] = {}
    floors: dict[str, float | None] = {}
    whole: Repeats | None = None
    for variant in _covering(found):
        *each, chain = _tried(variant, mixes[variant.mix].file.path, block_frames, patience_s, fresh)
        whole = whole or chain
        for setup, one in zip(heard(variant), each, strict=True):
            if setup.path:
                stages[key_of(setup)] = max(one, stages.get(key_of(setup), one), key=_unlike)
                for name in (_name(setup, facts), _exact_name(setup, facts)):
                    floors[name] = _worse(one.floor_dbfs, floors.get(name))
    trouble = _remember(folder, floors) if folder is not None else ""
    return Repeated(stages, whole or Repeats(Residual(None, None), Residual(None, None)), trouble)


def _unlike(one: Repeats) -> tuple[float, ...]:
    """What orders by how little it repeats."""
    return tuple(-math.inf if r.peak_dbfs is None else r.peak_dbfs for r in (one.fresh, one.again))


def _worse(one: float | None, other: float | None) -> float | None:
    return max((floor for floor in (one, other) if floor is not None), default=None)


def floors_of(found: Sequence[Variant], facts: Facts, folder: Path | None) -> dict[StageSetup, float | None]:
    """What is remembered: stage -> the peak, in dBFS, of what differs from one process to the next; None = nothing.

    A floor is known by its stage's program, state and channels, the worst of whatever settings; that nothing differs,
    by all that decides what it does. A stage of which neither is known is not there.
    """
    known = _read(folder) if folder is not None else {}
    told: dict[StageSetup, float | None] = {}
    for setup in (setup for variant in found for setup in heard(variant) if setup.path):
        exact, floor = _exact_name(setup, facts), known.get(_name(setup, facts))
        if exact in known or floor is not None:
            told[setup] = known.get(exact, floor)
    return told


def _covering(found: Sequence[Variant]) -> Iterator[Variant]:
    """The first variants that bring in a stage, or one of its alternatives."""
    seen: set[StageKey] = set()
    for number, variant in enumerate(found):
        keys = {key_of(setup) for setup in heard(variant)}
        if number == 0 or not keys <= seen:
            yield variant
        seen |= keys


def _tried(variant: Variant, mix: Path, block_frames: int, patience_s: float, fresh: FreshPool) -> list[Repeats]:
    """Each stage that is heard, and last the chain."""
    with TemporaryDirectory(prefix="sweeper-twice-", ignore_cleanup_errors=True) as name:
        order = TwiceOrder(mix, heard(variant), STRETCH_S, block_frames, patience_s, Path(name))
        task = Task("twice", "sweeper.render.twice:render_twice", order, f"variant {variant.id} twice")
        found = []
        for _ in range(2):
            with fresh() as pool:
                (outcome,) = pool.map_in_order([task])
            found.append(value_of(outcome, tuple, partial(ended, task)))
    again, later = found
    return [Repeats(*pair) for pair in zip(again, later, strict=True)]


def _name(setup: StageSetup, facts: Facts) -> str:
    build = [facts.programs[setup.path], facts.states[str(setup.state)] if setup.state else "", setup.channels.value]
    return hashlib.sha256(json.dumps(build).encode()).hexdigest()[:24]


def _exact_name(setup: StageSetup, facts: Facts) -> str:
    return hashlib.sha256(recipe([setup], facts).encode()).hexdigest()[:24]


def _read(folder: Path) -> dict[str, float | None]:
    """The floors remembered; none where there are none, or none that can be read."""
    try:
        data = json.loads((folder / FLOORS_NAME).read_text("utf-8"))
        return {str(name): None if value is None else float(value) for name, value in data.items()}
    except (OSError, ValueError, AttributeError, TypeError):  # nothing is said of them until they are tried again
        return {}


def _remember(folder: Path, floors: Mapping[str, float | None]) -> str:
    """Keep what was found, the worst of it and of what was known before; returns why that cannot be, else ""."""
    known = _read(folder)
    both = {**known, **{name: _worse(floor, known.get(name)) for name, floor in floors.items()}}
    rounded = {name: None if floor is None else round(floor, 1) for name, floor in both.items()}
    try:
        write_whole(folder / FLOORS_NAME, json.dumps(rounded) + "\n")
    except RunFolderError as exc:  # sheets will not say it, nothing else is lost
        return exc.what
    return ""
