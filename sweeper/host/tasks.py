"""What workers do for the parent with one plugin, besides rendering. Runs in workers only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sweeper.chain.model import OWN_SETTINGS, FromDialled, SettingValue, Travel
from sweeper.errors import PluginError, SettingError, SweeperError
from sweeper.host.control import Control, step_positions
from sweeper.host.deaf import deaf, only_shows
from sweeper.host.described import Plugin
from sweeper.host.effect import Effect, open_effect
from sweeper.host.examine import describe
from sweeper.host.question import Answer, Asked, Fault, Found, Question
from sweeper.host.resolve import resolve, tidy
from sweeper.host.riding import own_value
from sweeper.host.scale import solvable
from sweeper.host.settings import control_named
from sweeper.host.setup import Dialled, StageSetup
from sweeper.host.stage import HostedStage
from sweeper.host.stepping import stepped
from sweeper.host.tables import found_by, tabled, texts_folder
from sweeper.units import folded
from sweeper.workers import Report

#: The rate at which a plugin is described when no mix says otherwise.
USUAL_RATE_HZ = 48000
#: A control with more steps is as good as a continuous one.
MOST_STEPS = 1000


def describe_plugin(argument: tuple[str, int, float], report: Report) -> Plugin:
    """Load the plugin at a path and describe it. argument: path, block frames, patience in seconds."""
    path, block_frames, patience_s = argument
    report.phase(f"loading {path}", patience_s)
    return describe(open_effect(path), path, USUAL_RATE_HZ, block_frames)


def examine_stage(question: Question, report: Report) -> Answer:
    """Load a stage's plugin and look up everything the chain file wants of it; every fault at once."""
    report.phase(f"loading '{question.stage}' ({question.path})", question.patience_s)
    try:
        setup = StageSetup(question.stage, question.path, question.state, question.channels, (),
                           latency=question.latency, instances=question.instances)  # fmt: skip
        stage = HostedStage(setup, question.format, question.block_frames, report.beat)
    except PluginError as exc:
        fault = Fault(-1, exc.what, exc.remedy)
        loaded = None if question.instances else _loaded(question)
        controls = loaded.controls if loaded is not None else None
        faults, found = _looked_up(_without_steps(question), controls, report)
        return Answer(None, (fault, *faults), found)
    effect = stage.instances[0].effect
    rate_hz, block_frames = question.format.rate_hz, question.block_frames
    with tabled(question.path, effect.controls, texts_folder()) as known:
        plugin = describe(effect, question.path, rate_hz, block_frames, find_meters=False, controls=known)
        faults, found = _looked_up(question, known, report)
    named = () if question.instances else _named(question, effect.controls)
    meters = deaf(effect, [c for _, c in named if not c.automatable], plugin.channels, rate_hz, block_frames)
    shown = [only_shows(number, control.name) for number, control in named if control.index in meters]
    told = {fault.number for fault in shown}
    return Answer(plugin, (*(fault for fault in faults if fault.number not in told), *shown), found)


def _named(question: Question, controls: Sequence[Control]) -> tuple[tuple[int, Control], ...]:
    """Each thing asked that is a control of the plugin's, by its number."""
    named = ((number, asked.name) for number, asked in enumerate(question.asked) if asked.name not in OWN_SETTINGS)
    return tuple((number, control_named(controls, name)) for number, name in named if _is_one(controls, name))


def _is_one(controls: Sequence[Control], name: str) -> bool:
    try:
        control_named(controls, name)
    except SettingError:  # told as a fault of its own
        return False
    return True


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
    question: Question, controls: Sequence[Control] | None, report: Report
) -> tuple[tuple[Fault, ...], tuple[Found | None, ...]]:
    found: list[Found | None] = [None] * len(question.asked)
    if controls is None:
        return (), tuple(found)
    faults = []
    for number, asked in enumerate(question.asked):
        report.phase(f"looking up '{asked.name}' of '{question.stage}'", question.patience_s)
        try:
            found[number] = _look_up(controls, asked, question.own)
        except SweeperError as exc:
            faults.append(Fault(number, exc.what, exc.remedy, not _is_there(controls, asked.name)))
    return tuple(faults), tuple(found)


def _look_up(controls: Sequence[Control], asked: Asked, own: Sequence[Dialled]) -> Found | None:
    if asked.name in OWN_SETTINGS:
        if asked.value is not None and not isinstance(asked.value, FromDialled):
            own_value(asked.name, asked.value)
        return None
    if asked.value is None:
        solvable(controls, asked.name)
        return None
    control = control_named(controls, asked.name)
    if isinstance(asked.value, FromDialled):
        offset, dialled = asked.value, _set_by_file(controls, control, asked.side, own)
        return Found(control.name, found_by(control, lambda each: stepped(each, offset, dialled)))
    wanted = asked.value
    raw = found_by(control, lambda each: resolve(each, wanted))
    return Found(control.name, raw, _steps_of(control) if asked.with_steps else ())


def _steps_of(control: Control) -> tuple[tuple[float, str], ...]:
    """Every position of a control with steps, and what it shows there; () for a continuous one, or as good as that."""
    positions = step_positions(control)
    return tuple((raw, _in_full(control, raw)) for raw in positions) if len(positions) <= MOST_STEPS else ()


def _in_full(control: Control, raw: float) -> str:
    """What a control shows, with its unit."""
    text, unit = tidy(control.text_at(raw)), control.unit.strip()
    return text if not unit or text.endswith(unit) else f"{text} {unit}"


def _set_by_file(
    controls: Sequence[Control], control: Control, side: str, own: Sequence[Dialled]
) -> SettingValue | None:
    """What the chain file sets a control to on a side; None where it leaves it as the state has it."""
    for setting in own:
        meant = setting.side in ("", side) and setting.name not in OWN_SETTINGS and _is_there(controls, setting.name)
        if meant and control_named(controls, setting.name).index == control.index:
            return setting.value
    return None


def _is_there(controls: Sequence[Control], name: str) -> bool:
    """Whether a setting of that name exists, or several that it may mean."""
    names = [folded(control.name) for control in controls if control.settable]
    return name in OWN_SETTINGS or any(each == folded(name) or each.startswith(folded(name) + "(") for each in names)
