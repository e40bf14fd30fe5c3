"""What rendering and storing cost on this machine: tried once, remembered beside the store."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from sweeper.audio import AudioFormat
from sweeper.errors import RunFolderError
from sweeper.host.setup import StageSetup
from sweeper.plan.storing import Costs
from sweeper.plan.tree import Facts, Tree
from sweeper.plan.variants import Variant
from sweeper.render.orders import Measured, StoreTimeOrder, TimeOrder
from sweeper.render.store import entry_bytes
from sweeper.render.trials import ended
from sweeper.render.writing import write_whole
from sweeper.workers import Done, Failed, Pool, Task, value_of

FIGURES_NAME = "figures.json"
#: How much noise a stage is tried on, and how much of it is stored for trial.
NOISE_S, STORED_S = 6.0, 30.0
#: What a stage that fails on noise is taken to cost where that is no reason to stop: 20 times faster than the music.
ASSUMED = 0.05


@dataclass(frozen=True)
class Speeds:
    """Seconds of work for a second of each mix, by the mix's number.

    stages: of every stage that has a plugin. pass_s: of metering and writing. store_s: of storing a step and reading it
    back.
    """

    stages: tuple[Mapping[StageSetup, float], ...]
    pass_s: tuple[float, ...]
    store_s: tuple[float, ...]


def speeds(found: Sequence[Variant], mixes: Sequence[Measured], facts: Facts, folder: Path | None, pool: Pool,
           block_frames: int, patience_s: float, strict: bool) -> Speeds:  # fmt: skip
    """Every stage's speed, from the figures remembered in `folder`, else tried now on noise and remembered.

    folder: the store's; None = nothing is stored, and figures are not remembered. strict: raise PluginError when a
    stage fails on noise; else a figure is assumed for it, for a run tells of that stage with the variants it fails.
    """
    known = _read(folder)
    names = [_names(found, number, mix, facts) for number, mix in enumerate(mixes)]
    wanted: dict[str, Task] = {}
    for mix, own in zip(mixes, names, strict=True):
        wanted = {**_tasks(mix.file.format, own, folder, block_frames, patience_s), **wanted}
    missing = {name: task for name, task in wanted.items() if name not in known}
    tried = zip(missing, pool.map_in_order(missing.values()), strict=True)
    found_now = {name: _seconds(outcome, missing[name], strict) for name, outcome in tried}
    known |= {name: figure for name, figure in found_now.items() if figure is not None}
    if missing and folder is not None:
        _write(folder, known)
    formats = [mix.file.format for mix in mixes]
    return Speeds(
        tuple({setup: max(1e-9, known.get(name, ASSUMED)) for setup, name in own.items()} for own in names),
        tuple(known.get(_name("measure", f.rate_hz, f.channels), 0.0) for f in formats),
        tuple(known.get(_name("store", f.rate_hz, f.channels), 0.0) for f in formats),
    )


def _names(found: Sequence[Variant], number: int, mix: Measured, facts: Facts) -> dict[StageSetup, str]:
    """What the figure of each stage of a mix's variants is called."""
    format = mix.file.format
    audible = dict.fromkeys(s for v in found if v.mix == number for s in v.stages if s.path and not s.bypass)
    return {setup: _stage_name(setup, facts, format.rate_hz, format.channels) for setup in audible}


def _tasks(format: AudioFormat, stages: Mapping[StageSetup, str], folder: Path | None, block_frames: int,
           patience_s: float) -> dict[str, Task]:  # fmt: skip
    """What finds each figure out, by its name."""
    place = "sweeper.render.file_tasks"
    tasks: dict[str, Task] = {}
    for setup, name in stages.items():
        order = TimeOrder((setup,), format, NOISE_S, block_frames, patience_s)
        tasks.setdefault(name, Task(name, f"{place}:time_chain", order, f"'{setup.name}' on noise"))
    nothing = TimeOrder((), format, NOISE_S, block_frames, patience_s)
    tasks[_name("measure", format.rate_hz, format.channels)] = Task("measure", f"{place}:time_chain", nothing, "noise")
    if folder is not None:
        store = StoreTimeOrder(folder, format, STORED_S)
        tasks[_name("store", format.rate_hz, format.channels)] = Task("store", f"{place}:time_store", store, "noise")
    return tasks


def also_of(tried: Speeds, found: Sequence[Variant]) -> Speeds:
    """The same for other settings of the stages that were tried: they hardly change a stage's speed."""
    stages = []
    for mix, own in enumerate(tried.stages):
        alike = {_kind(setup): figure for setup, figure in own.items()}
        others = dict.fromkeys(s for v in found if v.mix == mix for s in v.stages if s.path and not s.bypass)
        new = {setup: alike[_kind(setup)] for setup in others if setup not in own and _kind(setup) in alike}
        stages.append({**own, **new})
    return replace(tried, stages=tuple(stages))


def _kind(setup: StageSetup) -> tuple[object, ...]:
    return setup.path, setup.state, setup.channels


def costs(grown: Tree, mixes: Sequence[Measured], tried: Speeds) -> Costs:
    """What each step of a tree costs, and a stored step of each mix."""
    seconds = [mix.file.duration_s for mix in mixes]
    return Costs(
        {key: sum(tried.stages[step.mix].get(setup, 0.0) for setup in step.setups) * seconds[step.mix]
         for key, step in grown.steps.items()},
        {number: tried.store_s[number] * length for number, length in enumerate(seconds)},
        {number: entry_bytes(mix.file.frames, mix.file.format.channels) for number, mix in enumerate(mixes)},
    )  # fmt: skip


def _seconds(outcome: Done | Failed, task: Task, strict: bool) -> float | None:
    if isinstance(outcome, Failed) and not strict:
        return None
    return value_of(outcome, float, partial(ended, task))


def _stage_name(setup: StageSetup, facts: Facts, rate_hz: int, channels: int) -> str:
    """The same for one plugin and state in whatever settings: they hardly change its speed."""
    program, state = facts.programs.get(setup.path, ""), facts.states[str(setup.state)] if setup.state else ""
    recipe = [program, state, setup.channels.value]
    return _name(hashlib.sha256(json.dumps(recipe).encode()).hexdigest()[:24], rate_hz, channels)


def _name(what: str, rate_hz: int, channels: int) -> str:
    return f"{what} {rate_hz} Hz {channels}"


def _read(folder: Path | None) -> dict[str, float]:
    """The figures remembered; none where there are none, or none that can be read."""
    if folder is None:
        return {}
    try:
        data = json.loads((folder / FIGURES_NAME).read_text("utf-8"))
        return {str(name): float(value) for name, value in data.items()}
    except (OSError, ValueError, AttributeError, TypeError):  # they are tried again, which costs seconds
        return {}


def _write(folder: Path, figures: Mapping[str, float]) -> None:
    try:
        write_whole(folder / FIGURES_NAME, json.dumps({name: float(f"{v:.4g}") for name, v in figures.items()}) + "\n")
    except RunFolderError:  # a full disk: they are tried again next time
        return
