"""Asking the plugins, through workers, whether the chain file can be rendered as it stands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sweeper.audio.format import AudioFormat
from sweeper.chain.model import Chain
from sweeper.errors import ChainFileError, Problem
from sweeper.host.described import Plugin
from sweeper.host.question import Answer
from sweeper.plan.questions import Placed, located, problems_of, questions
from sweeper.plan.reach_checks import unsolvable
from sweeper.workers import Done, Failed, Pool, Task


@dataclass(frozen=True)
class Examined:
    """What is known of a chain once its plugins have been loaded: stage name -> file, and description."""

    paths: Mapping[str, str]
    plugins: Mapping[str, Plugin]
    warnings: tuple[str, ...]


def examine(chain: Chain, formats: Sequence[AudioFormat], pool: Pool, block_frames: int,
            patience_s: float) -> Examined:  # fmt: skip
    """Load every stage's plugin in a worker and look up every setting that the chain file names.

    Raises ChainFileError with every fault: plugins missing or not loading, settings unknown or out of range.
    """
    paths, problems = located(chain)
    problems += unsolvable(chain)
    placed = questions(chain, paths, formats, block_frames, patience_s)
    tasks = [Task(str(i), "sweeper.host.tasks:examine_stage", p.question, p.stage.name) for i, p in enumerate(placed)]
    plugins: dict[str, Plugin] = {}
    for one, outcome in zip(placed, pool.map_in_order(tasks), strict=True):
        if isinstance(outcome, Failed):
            problems.append(_broken(chain, one, outcome))
        elif isinstance(outcome, Done) and isinstance(outcome.value, Answer):
            problems.extend(problems_of(chain, one, outcome.value))
            if outcome.value.plugin is not None:
                plugins[one.stage.name] = outcome.value.plugin
    if problems:
        unique = dict.fromkeys(problems)
        raise ChainFileError(sorted(unique, key=lambda p: (p.line, p.column)))
    return Examined(paths, plugins, _warnings(chain, plugins))


def _broken(chain: Chain, placed: Placed, failed: Failed) -> Problem:
    mark = placed.stage.plugin_mark
    said = f"; it last said: {failed.said[-1]}" if failed.said else ""
    return Problem(
        str(chain.path), mark.line, mark.column,
        f"stage '{placed.stage.name}': {placed.question.path} {failed.what}{said}",
        "take it out of the chain, or open it once in another host: it may want to be authorised",
    )  # fmt: skip


def _warnings(chain: Chain, plugins: Mapping[str, Plugin]) -> tuple[str, ...]:
    return tuple(
        f"stage '{stage.name}': {plugins[stage.name].name} {plugins[stage.name].note}"
        for stage in chain.stages
        if stage.name in plugins and plugins[stage.name].note.startswith("detects each channel")
    )
