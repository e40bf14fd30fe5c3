"""Names of settings, as `vary` and `reach` write them: stage.setting, stage.side.setting, rides.name.by."""

from __future__ import annotations

from sweeper.chain.faults import Faults
from sweeper.chain.model import OWN_SETTINGS, Mark, SettingRef, Stage
from sweeper.chain.nearest import nearest, quoted
from sweeper.chain.ride_refs import read_ride_ref
from sweeper.chain.shapes import folded
from sweeper.chain.stages import RIDES, StageNames
from sweeper.units import plain

BYPASS = "bypass"


def read_ref(text: str, mark: Mark, names: StageNames, faults: Faults) -> SettingRef | None:
    """The setting meant; its stage must exist. Names of ours come back in our spelling."""
    stage_name, dot, rest = text.partition(".")
    if not dot or not rest.strip() or not stage_name.strip():
        faults.add(mark, f"{quoted(text)} does not name a setting of a stage",
                   "write STAGE.SETTING, e.g. limiter.drive")
        return None
    if folded(stage_name) == RIDES:
        return read_ride_ref(text, mark, names, faults)
    stage = names.stages.get(folded(stage_name))
    if stage is None:
        if names.complete:
            known = [each.name for each in names.stages.values()]
            near = nearest(stage_name, known)
            stages = ", ".join(known) or "none"
            remedy = f"did you mean '{near}.{rest}'?" if near else f"stages here: {stages}"
            faults.add(mark, f"no stage is called {quoted(stage_name)}", remedy)
        return None
    side, setting = _side(rest, stage)
    ours = (*OWN_SETTINGS, BYPASS, *(handle.name for choice in stage.choices for handle in choice.handles))
    setting = folded(plain(setting)) if folded(plain(setting)) in ours else setting
    if not _offered(setting, stage, mark, faults):
        return None
    ref = SettingRef(stage.name, setting, side)
    if side and {control_of(ref, choice) for choice in stage.choices} & {*OWN_SETTINGS, BYPASS}:
        faults.add(mark, f"'{setting}' belongs to the whole stage, not to one side",
                   f"write {stage.name}.{setting}")
        return None
    return ref if _in_every_alternative(ref, stage, mark, faults) else None


def _offered(setting: str, stage: Stage, mark: Mark, faults: Faults) -> bool:
    """Whether a stage without a plugin has the setting."""
    if stage.is_fader and setting not in (BYPASS, *(handle.name for handle in stage.handles)):
        faults.add(mark, f"the bus {quoted(stage.name)} has no {quoted(setting)}",
                   f"write {stage.name}.level or {stage.name}.{BYPASS}, or name a stage on it")
        return False
    if stage.outside and setting != BYPASS:
        faults.add(mark, f"{quoted(stage.name)} stands outside, where nothing turns its {quoted(setting)}",
                   f"write {stage.name}.{BYPASS}, or name a setting of another stage")
        return False
    return True


def _side(rest: str, stage: Stage) -> tuple[str, str]:
    """The side and the setting; a dot after anything but a side is part of the setting's name."""
    first, dot, setting = rest.partition(".")
    sides = {side for choice in stage.choices for side in choice.channels.sides if side}
    if dot and setting.strip() and folded(first) in sides:
        return folded(first), setting.strip()
    return "", rest.strip()


def _in_every_alternative(ref: SettingRef, stage: Stage, mark: Mark, faults: Faults) -> bool:
    """Whether every alternative has the side and, where it is one of ours, the handle that is named."""
    has_handle = {choice: any(handle.name == ref.setting for handle in choice.handles) for choice in stage.choices}
    for choice in stage.choices:
        if ref.side and ref.side not in choice.channels.sides:
            faults.add(mark, f"'{ref}' means one side, and {quoted(choice.label)} has no '{ref.side}'",
                       "give all alternatives the same channels")
            return False
        if any(has_handle.values()) and not has_handle[choice]:
            control = "raise CONTROL" if ref.setting == "drive" else "CONTROL"
            faults.add(mark, f"'{ref}' means every alternative, and {quoted(choice.label)} has no '{ref.setting}'",
                       f"add {ref.setting}: {control} to it")
            return False
    return True


def stage_of(ref: SettingRef, names: StageNames) -> Stage:
    """The stage that a checked reference names."""
    return names.stages[folded(ref.stage)]


def controls(ref: SettingRef, names: StageNames) -> tuple[str, ...]:
    """The folded name of the control behind a reference, a handle followed to what it turns; one for each choice."""
    return tuple(control_of(ref, choice) for choice in stage_of(ref, names).choices)


def control_of(ref: SettingRef, choice: Stage) -> str:
    """The folded name of the control behind a reference in one stage or alternative."""
    for handle in choice.handles:
        if handle.name == ref.setting:
            return folded(handle.setting)
    return folded(ref.setting)


def same_control(one: SettingRef, other: SettingRef, names: StageNames) -> bool:
    """Whether two references turn the same control of some alternative, on at least one side.

    The amount of a ride is a thing of its own.
    """
    if one.ride or other.ride:
        return one.ride == other.ride
    return (
        one.stage == other.stage
        and any(a == b for a, b in zip(controls(one, names), controls(other, names), strict=True))
        and (one.side == other.side or "" in (one.side, other.side))
    )


def silenced_by(ref: SettingRef, names: StageNames) -> Stage | None:
    """The bypassed stage, or bus, that leaves what the reference turns unheard; None where it is heard."""
    stage = stage_of(ref, names)
    if stage.bypass and BYPASS not in controls(ref, names):
        return stage
    bus = names.stages.get(folded(stage.bus)) if stage.bus and not stage.is_fader else None
    return bus if bus is not None and bus.bypass else None
