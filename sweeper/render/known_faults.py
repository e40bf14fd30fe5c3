"""Faults that were met twice in the same place: a third try would only cost its time, and the patience of a hang."""

from __future__ import annotations

from collections.abc import Sequence

from sweeper.errors import PluginError
from sweeper.host.setup import StageSetup, loading, stage_label
from sweeper.workers import Cause, Failed

#: So many tasks that fail alike are a fault of the stage; one may have been an accident.
ENOUGH = 2


class KnownFaults:
    """Counts failures by mix, by the stage that they are laid to, and by their words.

    The words hold how it ended, in what phase, and at what time of the mix. A stage is the same where all of its
    settings are: another position of one knob may well work. What is wrong with the sound at some time of the mix (no
    numbers, too few samples) may come from what feeds the stage, and is tried every time.
    """

    def __init__(self) -> None:
        self._met: dict[tuple[int, StageSetup, Cause, str], int] = {}
        self._known: dict[tuple[int, StageSetup], Failed] = {}

    def met(self, mix: int, stages: Sequence[StageSetup], failed: Failed) -> StageSetup | None:
        """Take a failure in. stages: that the task rendered. The stage not to be tried again, None = none is yet."""
        stage = concerned(stages, failed)
        if stage is None or (failed.cause is Cause.ERROR and failed.position):
            return None
        fault = (mix, stage, failed.cause, failed.what)
        self._met[fault] = self._met.get(fault, 0) + 1
        if self._met[fault] < ENOUGH:
            return None
        self._known[mix, stage] = failed
        return stage

    def known(self) -> tuple[tuple[int, StageSetup, Failed], ...]:
        """Every stage not to be tried again: its mix, itself, and how it failed."""
        return tuple((mix, stage, failed) for (mix, stage), failed in self._known.items())


def concerned(stages: Sequence[StageSetup], failed: Failed) -> StageSetup | None:
    """The one stage that a failure is laid to: the one its error names, or the one at work when the process ended.

    None where it cannot be told, or where no plugin is to blame: a full disk, a damaged file, a fault of ours.
    """
    if failed.cause is Cause.ERROR and not isinstance(failed.error, PluginError):
        return None
    found = [stage for stage in stages if not stage.bypass and _is_named(stage, failed)]
    return found[0] if len(found) == 1 else None


def _is_named(stage: StageSetup, failed: Failed) -> bool:
    label = stage_label(stage.name, stage.path)
    if failed.cause is Cause.ERROR:
        return failed.what.startswith((f"stage {label}:", f"{label} "))
    if failed.position:
        return failed.position.endswith(f" in {label}")
    return failed.phase == loading(stage)
