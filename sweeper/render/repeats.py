"""Whether every stage gives the same twice, tried on a stretch of the mix, and remembered for the sheets of runs."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from sweeper.errors import RunFolderError
from sweeper.host.setup import StageSetup
from sweeper.plan.tree import Facts
from sweeper.plan.variants import Variant
from sweeper.render.orders import Measured
from sweeper.render.trial_orders import Repeats, Residual, TwiceOrder
from sweeper.render.trials import StageKey, heard, key_of, value_of
from sweeper.render.writing import write_whole
from sweeper.workers import Pool, Task

FLOORS_NAME = "repeats.json"
#: How much of the mix is rendered: enough for detectors, and for what changes only now and then to show.
STRETCH_S = 6.0
#: Gives a pool of one worker in which nothing was loaded yet.
FreshPool = Callable[[], Pool]


@dataclass(frozen=True)
class Repeated:
    """stages: each stage, by name and label. whole: the chain of the first variant."""

    stages: Mapping[StageKey, Repeats]
    whole: Repeats


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
                stages.setdefault(key_of(setup), one)
                floors.setdefault(_name(setup, facts), one.floor_dbfs)
    if folder is not None:
        _write(folder, {**_read(folder), **floors})
    return Repeated(stages, whole or Repeats(Residual(None, None), Residual(None, None)))


def floors_of(found: Sequence[Variant], facts: Facts, folder: Path | None) -> dict[StageSetup, float | None]:
    """What is remembered: stage -> the peak, in dBFS, of what differs from one process to the next; None = nothing.

    A stage that was never rendered twice is not there. One that was is known by its program, state and channels, in
    whatever settings.
    """
    known = _read(folder) if folder is not None else {}
    names = {setup: _name(setup, facts) for variant in found for setup in heard(variant) if setup.path}
    return {setup: known[name] for setup, name in names.items() if name in known}


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
            found.append(value_of(outcome, task))
    again, later = found
    assert isinstance(again, tuple) and isinstance(later, tuple)
    return [Repeats(*pair) for pair in zip(again, later, strict=True)]


def _name(setup: StageSetup, facts: Facts) -> str:
    recipe = [facts.programs[setup.path], facts.states[str(setup.state)] if setup.state else "", setup.channels.value]
    return hashlib.sha256(json.dumps(recipe).encode()).hexdigest()[:24]


def _read(folder: Path) -> dict[str, float | None]:
    """The floors remembered; none where there are none, or none that can be read."""
    try:
        data = json.loads((folder / FLOORS_NAME).read_text("utf-8"))
        return {str(name): None if value is None else float(value) for name, value in data.items()}
    except (OSError, ValueError, AttributeError, TypeError):  # nothing is said of them until they are tried again
        return {}


def _write(folder: Path, floors: Mapping[str, float | None]) -> None:
    rounded = {name: None if floor is None else round(floor, 1) for name, floor in floors.items()}
    try:
        write_whole(folder / FLOORS_NAME, json.dumps(rounded) + "\n")
    except RunFolderError:  # a full disk: sheets will not say it, nothing else is lost
        return
