"""The checks that need plugins: what to ask of each stage, and the faults with their place in the file."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sweeper.audio.format import AudioFormat
from sweeper.chain.model import Chain, Mark, Stage
from sweeper.errors import PluginMissing, Problem
from sweeper.host.catalogue import find
from sweeper.host.question import Answer, Asked, Question
from sweeper.plan.names import BYPASS, setting_of


@dataclass(frozen=True)
class Placed:
    """A question about a stage, and where in the chain file each thing asked stands."""

    question: Question
    stage: Stage
    marks: tuple[Mark, ...]


def located(chain: Chain) -> tuple[dict[str, str], list[Problem]]:
    """Every stage's plugin: stage name -> its file or "builtin:NAME", and a problem for each not found."""
    paths: dict[str, str] = {}
    problems = []
    for stage in chain.stages:
        try:
            paths[stage.name] = find(stage.plugin, chain.path.parent)
        except PluginMissing as exc:
            problems.append(_problem(chain, stage.plugin_mark, exc.what, exc.remedy))
    return paths, problems


def questions(chain: Chain, paths: Mapping[str, str], formats: Iterable[AudioFormat], block_frames: int,
              patience_s: float) -> tuple[Placed, ...]:  # fmt: skip
    """One question a stage and format of mix. Stages whose plugin was not found are left out."""
    placed = []
    for format in formats:
        for stage in chain.stages:
            if stage.name in paths:
                asked = list(_asked(chain, stage))
                question = Question(stage.name, paths[stage.name], stage.state, stage.channels, format,
                                    tuple(a for a, _ in asked), block_frames, patience_s)  # fmt: skip
                placed.append(Placed(question, stage, tuple(mark for _, mark in asked)))
    return tuple(placed)


def _asked(chain: Chain, stage: Stage) -> Iterable[tuple[Asked, Mark]]:
    for assignment in stage.settings:
        yield Asked(assignment.name, assignment.side, assignment.value), assignment.mark
    for handle in stage.handles:
        yield Asked(handle.setting, "", None), handle.mark
    for axis in chain.vary:
        if axis.ref.stage == stage.name and axis.ref.setting != BYPASS:
            for value in axis.values:
                yield Asked(setting_of(stage, axis.ref), axis.ref.side, value), axis.mark
    for reach in chain.reach:
        if reach.by.stage == stage.name:
            yield Asked(setting_of(stage, reach.by), reach.by.side, None), reach.mark


def problems_of(chain: Chain, placed: Placed, answer: Answer) -> list[Problem]:
    """The answer's faults at their places in the chain file."""
    return [
        _problem(
            chain,
            placed.stage.plugin_mark if fault.number < 0 else placed.marks[fault.number],
            f"stage '{placed.stage.name}': {fault.what}",
            fault.remedy,
        )
        for fault in answer.faults
    ]


def _problem(chain: Chain, mark: Mark, what: str, remedy: str) -> Problem:
    return Problem(str(chain.path), mark.line, mark.column, what, remedy)
