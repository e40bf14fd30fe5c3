"""Asking the plugins, through workers, whether the chain file can be rendered as it stands."""

from __future__ import annotations

from collections.abc import Sequence

from sweeper.audio.format import AudioFormat
from sweeper.chain.model import Chain
from sweeper.errors import ChainFileError, Problem
from sweeper.host.described import Plugin
from sweeper.host.question import Answer, Found
from sweeper.plan.examined import ChoiceKey, Examined, Lookup, called, key_of
from sweeper.plan.lacking import Lacking
from sweeper.plan.own_checks import beyond
from sweeper.plan.questions import Placed, located, problem, problems_of, questions
from sweeper.plan.reach_checks import unsolvable
from sweeper.workers import Done, Failed, Pool, Task

__all__ = ["ChoiceKey", "Examined", "Lookup", "examine"]


def examine(chain: Chain, formats: Sequence[AudioFormat], pool: Pool, block_frames: int,
            patience_s: float) -> Examined:  # fmt: skip
    """Load every plugin of the chain in a worker and look up every setting that the chain file names.

    Raises ChainFileError with every fault: plugins missing or not loading, settings unknown or out of range.
    """
    paths, problems = located(chain)
    problems += (*unsolvable(chain), *beyond(chain))
    placed = questions(chain, paths, formats, block_frames, patience_s)
    tasks = [Task(str(i), "sweeper.host.tasks:examine_stage", p.question, p.choice.name) for i, p in enumerate(placed)]
    answered: list[tuple[Placed, Answer]] = []
    for one, outcome in zip(placed, pool.map_in_order(tasks), strict=True):
        if isinstance(outcome, Failed):
            problems.append(_broken(chain, one, outcome))
        elif isinstance(outcome, Done) and isinstance(outcome.value, Answer):
            answered.append((one, outcome.value))
    lacking = Lacking(chain, answered)
    problems += [problem for one, answer in answered for problem in problems_of(chain, one, answer)]
    problems += lacking.problems
    if problems:
        unique = dict.fromkeys(problems)
        raise ChainFileError(sorted(unique, key=lambda p: (p.line, p.column)))
    return _known(chain, paths, answered, lacking)


def _known(chain: Chain, paths: dict[ChoiceKey, str], answered: Sequence[tuple[Placed, Answer]],
           lacking: Lacking) -> Examined:  # fmt: skip
    """What the answers tell. All formats tell the same: the first is taken."""
    plugins: dict[ChoiceKey, Plugin] = {}
    found: dict[Lookup, Found] = {}
    for one, answer in answered:
        if answer.plugin is not None:
            plugins.setdefault(key_of(one.choice), answer.plugin)
        for asked, known in zip(one.question.asked, answer.found, strict=True):
            if known is not None and asked.value is not None:
                lookup: Lookup = (key_of(one.choice), asked.name, asked.side, asked.value)
                found.setdefault(lookup, known)
    return Examined(paths, plugins, (*_notes(chain, plugins), *lacking.warnings), found, lacking.settings)


def _broken(chain: Chain, placed: Placed, failed: Failed) -> Problem:
    said = f"; it last said: {failed.said[-1]}" if failed.said else ""
    return problem(
        chain, placed.choice.plugin_mark, f"{called(placed.choice)}: {placed.question.path} {failed.what}{said}",
        "take it out of the chain, or open it once in another host: it may want to be authorised",
    )  # fmt: skip


def _notes(chain: Chain, plugins: dict[ChoiceKey, Plugin]) -> list[str]:
    return [
        f"{called(choice)}: {plugins[key_of(choice)].name} {plugins[key_of(choice)].note}"
        for stage in chain.stages
        for choice in stage.choices
        if key_of(choice) in plugins and plugins[key_of(choice)].note.startswith("detects each channel")
    ]
