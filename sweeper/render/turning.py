"""The settings that a job's reaches turn, solved on the stages of a room. Runs in workers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from sweeper.chain.model import OWN_SETTINGS
from sweeper.host.knob import Knob, RideKnob
from sweeper.host.stage import HostedStage
from sweeper.quantities import Measurements
from sweeper.render.foresight import Rehearsing
from sweeper.render.job import ReachOrder, Solved
from sweeper.render.room import Room, placed
from sweeper.render.searches import AnyKnob
from sweeper.render.solve import solve


def solved_in(room: Room, orders: tuple[ReachOrder, ...], render: Callable[[], Measurements],
              rehearsing: Rehearsing | None = None) -> tuple[Solved, ...]:  # fmt: skip
    """Turn what the orders name until all have landed; each comes back under the name that the chain file has for it.

    orders: one at least. render, rehearsing: as `solve` has them. Raises PluginError, and SettingError for a setting
    that did not stick.
    """
    turned = [room.stages[order.stage - room.covered] for order in orders]
    knobs: list[AnyKnob] = []
    for order, stage in zip(orders, turned, strict=True):
        with placed(stage.setup):
            knobs.append(_knob(stage, order))
    with placed(turned[0].setup):
        found = solve(orders, knobs, render, rehearsing)
    named = []
    for order, stage, knob, solved in zip(orders, turned, knobs, found, strict=True):
        if knob.name not in OWN_SETTINGS and not order.ride:
            with placed(stage.setup):
                stage.confirm(knob.name)
        words = (stage.setup.name, order.side, "level" if stage.setup.is_fader else knob.name)
        if isinstance(knob, RideKnob):
            words = ("rides", order.ride, knob.word)
        named.append(replace(solved, setting=".".join(word for word in words if word)))
    return tuple(named)


def _knob(stage: HostedStage, order: ReachOrder) -> Knob | RideKnob:
    if order.ride:
        return RideKnob(stage, order.ride, order.sign)
    return Knob(stage, order.setting, order.side)
