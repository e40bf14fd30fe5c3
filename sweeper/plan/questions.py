"""The checks that need plugins: what to ask of each processor, and the faults with their place in the file."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from sweeper.audio.format import AudioFormat
from sweeper.chain.model import OWN_SETTINGS, Chain, FromDialled, Mark, Mix, SettingRef, SettingValue, Stage
from sweeper.chain.nearest import nearest
from sweeper.chain.own_chain import chain_of
from sweeper.errors import PluginMissing, Problem
from sweeper.host.catalogue import find
from sweeper.host.question import Answer, Asked, Fault, Question
from sweeper.host.setup import Dialled
from sweeper.plan.examined import ChoiceKey, called, key_of
from sweeper.plan.names import BYPASS, amount_of, handle_of, setting_of, value_of


@dataclass(frozen=True)
class Reason:
    """Why something is asked. mark: where in the chain file.

    varied: the plain setting in doubt, or that one mix has of its own; None for all else. mix: that mix, as written.
    """

    mark: Mark
    varied: SettingRef | None = None
    mix: str = ""


@dataclass(frozen=True)
class Placed:
    """A question about one processor, and why each thing in it is asked."""

    question: Question
    choice: Stage
    reasons: tuple[Reason, ...]


def located(chain: Chain) -> tuple[dict[ChoiceKey, str], list[Problem]]:
    """Every processor's file or "builtin:NAME", and a problem for each not found."""
    paths: dict[ChoiceKey, str] = {}
    problems = []
    for stage in chain.stages:
        if stage.is_fader or stage.outside:
            paths[key_of(stage)] = ""
    for choice in _choices(chain):
        try:
            paths[key_of(choice)] = find(choice.plugin, chain.path.parent)
        except PluginMissing as exc:
            problems.append(problem(chain, choice.plugin_mark, exc.what, exc.remedy))
    return paths, problems


def _choices(chain: Chain) -> Iterable[Stage]:
    """Every processor that has a plugin."""
    return (choice for stage in chain.stages for choice in stage.choices if not choice.is_fader and not choice.outside)


def questions(chain: Chain, paths: Mapping[ChoiceKey, str], formats: Iterable[AudioFormat], block_frames: int,
              patience_s: float) -> tuple[Placed, ...]:  # fmt: skip
    """One question a processor and format of mix. Those whose plugin was not found are left out."""
    placed = []
    for format in formats:
        for choice in _choices(chain):
            if key_of(choice) in paths:
                asked = list(_asked(chain, choice))
                own = tuple(Dialled(a.name, a.side, a.value) for a in choice.settings)
                wanted = tuple(each for each, _ in asked)
                question = Question(choice.name, paths[key_of(choice)], choice.state, choice.channels, format,
                                    wanted, block_frames, patience_s, own, choice.label, choice.latency,
                                    choice.instances)  # fmt: skip
                placed.append(Placed(question, choice, tuple(reason for _, reason in asked)))
    return tuple(placed)


def _asked(chain: Chain, choice: Stage) -> Iterable[tuple[Asked, Reason]]:
    for assignment in choice.settings:
        yield Asked(assignment.name, assignment.side, assignment.value), Reason(assignment.mark)
    for handle in choice.handles:
        yield Asked(handle.setting, "", None), Reason(handle.mark)
    for axis in chain.vary:
        if axis.ref.stage == choice.name and axis.ref.ride:
            for value in axis.values:
                yield _ridden(choice, axis.ref, value, axis.mark)
        elif axis.ref.stage == choice.name and axis.ref.setting != BYPASS:
            plain = None if handle_of(choice, axis.ref.setting) else axis.ref
            setting = setting_of(choice, axis.ref)
            for value in (value_of(choice, axis.ref, written) for written in axis.values):
                for side in sides_of(choice, axis.ref) if isinstance(value, FromDialled) else (axis.ref.side,):
                    yield Asked(setting, side, value, axis.between is not None), Reason(axis.mark, plain)
    for ride in chain.rides:
        if ride.ref.stage == choice.name:
            ref = replace(ride.ref, ride=ride.name, word="by" if ride.relative else "to")
            yield _ridden(choice, ref, ride.amount, ride.mark)
    for reach in chain.reach:
        if reach.by.stage == choice.name:
            yield Asked(setting_of(choice, reach.by), reach.by.side, None), Reason(reach.mark)
    for number, mix in enumerate(chain.mixes):
        if any(own.ref.stage == choice.name for own in mix.settings):
            yield from _own(choice, chain_of(chain, number), mix)


def _own(choice: Stage, chain: Chain, mix: Mix) -> Iterable[tuple[Asked, Reason]]:
    """What one mix has of its own, and what that leaves of settings for every side. chain: as the mix has it."""
    for own in mix.settings:
        ref = own.ref
        if ref.stage == choice.name and ref.ride:
            yield _ridden(choice, ref, own.value, own.mark)
        elif ref.stage == choice.name and ref.setting != BYPASS:
            plain = None if handle_of(choice, ref.setting) else ref
            yield Asked(setting_of(choice, ref), ref.side, own.value), Reason(own.mark, plain, mix.written)
    marks = {own.mark for own in mix.settings}
    as_set = next(one for stage in chain.stages for one in stage.choices if key_of(one) == key_of(choice))
    for left in as_set.settings:
        if left not in choice.settings and left.mark not in marks:
            yield Asked(left.name, left.side, left.value), Reason(left.mark)


def _ridden(choice: Stage, ref: SettingRef, amount: SettingValue, mark: Mark) -> tuple[Asked, Reason]:
    value = amount_of(choice, ref, amount, ref.word == "by")
    return Asked(setting_of(choice, ref), ref.side, value), Reason(mark)


def sides_of(choice: Stage, ref: SettingRef) -> tuple[str, ...]:
    """The sides on which a step from where a setting is dialled may lead to different values."""
    return (ref.side,) if ref.side or setting_of(choice, ref) in OWN_SETTINGS else choice.channels.sides


#: A handle -> how one is written.
HANDLES = {"drive": "`drive: raise Input`", "ceiling": "`ceiling: Output Ceiling`"}

#: Share of letters in common from which a name that a plugin does not have is taken for one that the stage has.
MISSPELT = 0.8


def problems_of(chain: Chain, placed: Placed, answer: Answer) -> list[Problem]:
    """The answer's faults at their places in the chain file, but for settings that an alternative may lack."""
    return [told(chain, placed, fault) for fault in answer.faults if lacked(placed, fault) is None]


def lacked(placed: Placed, fault: Fault) -> Reason | None:
    """Why a setting was asked for that a fault says is not among an alternative's, where it may lack that: it is
    varied, or one mix's own. None for every other fault."""
    if not fault.missing or fault.number < 0 or not placed.choice.label:
        return None
    reason = placed.reasons[fault.number]
    return None if reason.varied is None else reason


def told(chain: Chain, placed: Placed, fault: Fault) -> Problem:
    """A fault at its place in the chain file."""
    mark = placed.choice.plugin_mark if fault.number < 0 else placed.reasons[fault.number].mark
    asked = placed.question.asked[fault.number].name.lower() if fault.missing and fault.number >= 0 else ""
    if asked in HANDLES:
        what = f"{called(placed.choice)} has no setting and no handle called '{asked}'"
        return problem(chain, mark, what, f"say what it is, e.g. {HANDLES[asked]}; {fault.remedy}")
    remedy = _stages_own(asked, placed.choice) or fault.remedy
    return problem(chain, mark, f"{called(placed.choice)}: {fault.what}", remedy)


def _stages_own(name: str, choice: Stage) -> str:
    """The remedy for a name that no control has, where it is nearly a handle's or one that every stage has; else ""."""
    own = nearest(name, (*OWN_SETTINGS, BYPASS, *(handle.name for handle in choice.handles)), MISSPELT)
    return f"did you mean '{own}'?" if own else ""


def problem(chain: Chain, mark: Mark, what: str, remedy: str) -> Problem:
    """A problem at a place in the chain file."""
    return Problem(str(chain.path), mark.line, mark.column, what, remedy)
