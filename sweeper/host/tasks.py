"""What workers do for the parent with one plugin, besides rendering. Runs in workers only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sweeper.chain.model import TRIMS, FromDialled, SettingValue, Travel
from sweeper.errors import PluginError, SweeperError
from sweeper.host.control import Control
from sweeper.host.described import Plugin
from sweeper.host.effect import Effect, open_effect
from sweeper.host.examine import describe
from sweeper.host.knob import solvable
from sweeper.host.question import Answer, Asked, Fault, Found, Question
from sweeper.host.resolve import resolve
from sweeper.host.settings import control_named
from sweeper.host.setup import Dialled, StageSetup
from sweeper.host.stage import HostedStage, trim_db
from sweeper.host.stepping import stepped
from sweeper.units import folded
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
        faults, found = _looked_up(_without_steps(question), _loaded(question), report)
        return Answer(None, (fault, *faults), found)
    effect = stage.instances[0].effect
    plugin = describe(effect, question.path, question.format.rate_hz, question.block_frames, find_meters=False)
    return Answer(plugin, *_looked_up(question, effect, report))


def _loaded(question: Question) -> Effect | None:
    """A plugin that does not fit the stage; None when it does not even load."""
    try:
        return open_effect(question.path)
    except PluginError:  # already told: it is the fault that brought us here
        return None


def _without_steps(question: Question) -> Question:
    """The question where nothing is dialled yet: of `from dialled`, only whether the control is there."""
    return replace(question, asked=tuple(
        replace(asked, value=Travel(0.0, "")) if isinstance(asked.value, FromDialled) else asked
        for asked in question.asked
    ))  # fmt: skip


def _looked_up(
    question: Question, effect: Effect | None, report: Report
) -> tuple[tuple[Fault, ...], tuple[Found | None, ...]]:
    found: list[Found | None] = [None] * len(question.asked)
    if effect is None:
        return (), tuple(found)
    faults = []
    for number, asked in enumerate(question.asked):
        report.phase(f"looking up '{asked.name}' of '{question.stage}'", question.patience_s)
        try:
            found[number] = _look_up(effect.controls, asked, question.own)
        except SweeperError as exc:
            faults.append(Fault(number, exc.what, exc.remedy, not _is_there(effect.controls, asked.name)))
    return tuple(faults), tuple(found)


def _look_up(controls: Sequence[Control], asked: Asked, own: Sequence[Dialled]) -> Found | None:
    if asked.name in TRIMS:
        if asked.value is not None and not isinstance(asked.value, FromDialled):
            trim_db(asked.name, asked.value)
        return None
    if asked.value is None:
        solvable(controls, asked.name)
        return None
    control = control_named(controls, asked.name)
    if isinstance(asked.value, FromDialled):
        return Found(control.name, stepped(control, asked.value, _set_by_file(controls, control, asked.side, own)))
    return Found(control.name, resolve(control, asked.value))


def _set_by_file(
    controls: Sequence[Control], control: Control, side: str, own: Sequence[Dialled]
) -> SettingValue | None:
    """What the chain file sets a control to on a side; None where it leaves it as the state has it."""
    for setting in own:
        meant = setting.side in ("", side) and setting.name not in TRIMS and _is_there(controls, setting.name)
        if meant and control_named(controls, setting.name).index == control.index:
            return setting.value
    return None


def _is_there(controls: Sequence[Control], name: str) -> bool:
    """Whether a setting of that name exists, or several that it may mean."""
    names = [folded(control.name) for control in controls if control.settable]
    return name in TRIMS or any(each == folded(name) or each.startswith(folded(name) + "(") for each in names)
