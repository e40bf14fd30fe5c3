"""Which controls that nobody set can be put back where they stood. Runs in workers.

A plugin's meters are among its controls. They are told apart by trying: a meter does not stay where it is put.
"""

from __future__ import annotations

import gc
from collections.abc import Callable
from functools import partial

from sweeper.errors import SettingError
from sweeper.host.settings import confirm
from sweeper.host.setup import loading
from sweeper.host.stage import HostedStage
from sweeper.recall.orders import Kept, LookOrder, StandingOrder
from sweeper.records import Applied, StageRecord
from sweeper.render.recording import stage_record
from sweeper.render.room import placed
from sweeper.render.settled import dialled
from sweeper.units import folded
from sweeper.workers import Report


def put_back(order: StandingOrder, report: Report) -> Kept:
    """Load each stage that has controls to put back, and try each. Raises PluginError when one does not load."""
    taken: list[tuple[Applied, ...]] = []
    for setup, standing in zip(order.stages, order.standing, strict=True):
        report.phase(f"setting '{setup.name}' as it stood", order.patience_s)
        stage = HostedStage(setup, order.format, order.block_frames, report.beat) if standing else None
        taken.append(_taken(stage, standing, report) if stage else ())
    refused = (tuple(one for one in standing if one not in kept)
               for standing, kept in zip(order.standing, taken, strict=True))  # fmt: skip
    return Kept(tuple(taken), tuple(refused))


def _taken(stage: HostedStage, standing: tuple[Applied, ...], report: Report) -> tuple[Applied, ...]:
    moved = []
    for one in standing:
        report.beat()
        if _stays(partial(stage.adjust, dialled(one))):
            moved.append(one)
    made = {(applied.side, folded(applied.name)): applied for applied in stage.applied}
    kept: list[Applied] = []
    if stage.setup.instances:  # no second instance may tell where they stand
        return tuple(moved)
    for instance in stage.instances:
        report.beat()
        told = instance.effect.told_positions()
        own = [one for one in moved if one.side == instance.side]
        kept += [one for one in own if _stays(
            partial(confirm, instance.effect.controls, [made[one.side, folded(one.name)]], told))]  # fmt: skip
    return tuple(kept)


def _stays(move: Callable[[], None]) -> bool:
    """Whether a setting takes: one that does not stick, or is not there any more, does not."""
    try:
        move()
    except SettingError:
        return False
    return True


def look(order: LookOrder, report: Report) -> tuple[StageRecord, ...]:
    """Load each stage, set it, and tell how it stands then. Raises PluginError, SettingError, StateError."""
    records = []
    try:
        for setup in order.stages:
            report.phase(loading(setup), order.patience_s)
            with placed(setup):
                stage = HostedStage(setup, order.format, order.block_frames, report.beat)
                records.append(stage_record(stage))
            del stage  # one at a time: they are loaded again to render
        return tuple(records)
    finally:
        gc.collect()
