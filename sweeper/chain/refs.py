"""Names of settings, as `vary` and `reach` write them: stage.setting, stage.side.setting."""

from __future__ import annotations

from sweeper.chain.faults import Faults
from sweeper.chain.model import TRIMS, Mark, SettingRef, Stage
from sweeper.chain.nearest import nearest, quoted
from sweeper.chain.shapes import folded
from sweeper.chain.stages import StageNames
from sweeper.units import plain

BYPASS = "bypass"


def read_ref(text: str, mark: Mark, names: StageNames, faults: Faults) -> SettingRef | None:
    """The setting meant; its stage must exist. Names of ours come back in our spelling."""
    stage_name, dot, rest = text.partition(".")
    if not dot or not rest.strip() or not stage_name.strip():
        faults.add(mark, f"{quoted(text)} does not name a setting of a stage",
                   "write STAGE.SETTING, e.g. limiter.drive")
        return None
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
    ours = (*TRIMS, BYPASS, *(handle.name for handle in stage.handles))
    setting = folded(plain(setting)) if folded(plain(setting)) in ours else setting
    if side and setting in (*TRIMS, BYPASS):
        faults.add(mark, f"'{setting}' belongs to the whole stage, not to one side",
                   f"write {stage.name}.{setting}")
        return None
    return SettingRef(stage.name, setting, side)


def _side(rest: str, stage: Stage) -> tuple[str, str]:
    """The side and the setting; a dot after anything but a side is part of the setting's name."""
    first, dot, setting = rest.partition(".")
    if dot and setting.strip() and folded(first) in filter(None, stage.channels.sides):
        return folded(first), setting.strip()
    return "", rest.strip()


def stage_of(ref: SettingRef, names: StageNames) -> Stage:
    """The stage that a checked reference names."""
    return names.stages[folded(ref.stage)]


def control(ref: SettingRef, names: StageNames) -> str:
    """The folded name of the control behind a reference, a handle followed to what it turns."""
    for handle in stage_of(ref, names).handles:
        if handle.name == ref.setting:
            return folded(handle.setting)
    return folded(ref.setting)


def same_control(one: SettingRef, other: SettingRef, names: StageNames) -> bool:
    """Whether two references turn the same control, on at least one side."""
    return (
        one.stage == other.stage
        and control(one, names) == control(other, names)
        and (one.side == other.side or "" in (one.side, other.side))
    )
