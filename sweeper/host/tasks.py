"""What workers do for the parent with one plugin, besides rendering. Runs in workers only."""

from __future__ import annotations

from collections.abc import Sequence

from sweeper.chain.model import TRIMS
from sweeper.errors import PluginError, SweeperError
from sweeper.host.control import Control
from sweeper.host.described import Plugin
from sweeper.host.effect import Effect, open_effect
from sweeper.host.examine import describe
from sweeper.host.knob import solvable
from sweeper.host.question import Answer, Asked, Fault, Question
from sweeper.host.resolve import resolve
from sweeper.host.settings import control_named
from sweeper.host.setup import StageSetup
from sweeper.host.stage import HostedStage, trim_db
from sweeper.workers import Report

#: The rate at which a plugin is described when no mix says otherwise.
USUAL_RATE_HZ = 48000


def describe_plugin(argument: tuple[str, int, float], report: Report) -> Plugin:
    """Load the plugin at a path and describe it. argument: path, block frames, patience in seconds."""
    path, block_frames, patience_s = argument
    report.phase(f"loading {path}", patience_s)
    return describe(open_effect(path), path, USUAL_RATE_HZ, block_frames)


def examine_stage(question: Question, report: Report) -> Answer:
    """Load a stage's plugin and look up everything the chain file wants of it; every fault at once."""
    report.phase(f"loading '{question.stage}' ({question.path})", question.patience_s)
    try:
        setup = StageSetup(question.stage, question.path, question.state, question.channels, ())
        stage = HostedStage(setup, question.format, question.block_frames, report.beat)
    except PluginError as exc:
        fault = Fault(-1, exc.what, exc.remedy)
        return Answer(None, (fault, *_looked_up(question, _loaded(question), report)))
    effect = stage.instances[0].effect
    plugin = describe(effect, question.path, question.format.rate_hz, question.block_frames, find_meters=False)
    return Answer(plugin, _looked_up(question, effect, report))


def _loaded(question: Question) -> Effect | None:
    """A plugin that does not fit the stage; None when it does not even load."""
    try:
        return open_effect(question.path)
    except PluginError:  # already told: it is the fault that brought us here
        return None


def _looked_up(question: Question, effect: Effect | None, report: Report) -> tuple[Fault, ...]:
    if effect is None:
        return ()
    faults = []
    for number, asked in enumerate(question.asked):
        report.phase(f"looking up '{asked.name}' of '{question.stage}'", question.patience_s)
        try:
            _look_up(effect.controls, asked)
        except SweeperError as exc:
            faults.append(Fault(number, exc.what, exc.remedy))
    return tuple(faults)


def _look_up(controls: Sequence[Control], asked: Asked) -> None:
    if asked.name in TRIMS:
        if asked.value is not None:
            trim_db(asked.name, asked.value)
    elif asked.value is None:
        solvable(controls, asked.name)
    else:
        resolve(control_named(controls, asked.name), asked.value)
