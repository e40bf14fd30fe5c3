"""Describing a loaded plugin. Imported in workers only."""

from __future__ import annotations

from sweeper.host.control import Control, choices
from sweeper.host.described import TENTHS, Plugin, Setting
from sweeper.host.effect import Effect, channels_of, settle
from sweeper.host.settings import STUCK
from sweeper.host.shown import shown_unit


def describe(effect: Effect, path: str, rate_hz: int, block_frames: int, find_meters: bool = True) -> Plugin:
    """Everything `sweeper plugins NAME` shows, read after a block of silence.

    Controls that take no value are meters: they are hidden, with those that the host owns. find_meters: False leaves
    them among the settings, and loads the plugin no further times.
    """
    channels = channels_of(effect, rate_hz, block_frames)
    meters = _deaf(effect, channels, rate_hz, block_frames) if find_meters else frozenset()
    offered = [control for control in effect.controls if control.settable and control.index not in meters]
    return Plugin(
        name=effect.name, path=path, maker=effect.maker, version=effect.version, identifier=effect.identifier,
        category=effect.category, channels=channels, latency_frames=effect.latency_frames,
        settings=tuple(_setting(control) for control in offered),
        hidden=tuple(control.name for control in effect.controls if control not in offered),
        note=effect.note,
    )  # fmt: skip


def _deaf(effect: Effect, channels: int, rate_hz: int, block_frames: int) -> frozenset[int]:
    """The continuous controls that do not take a value: nudged a little, then further, they stay where they were."""
    before = effect.told_positions()
    deaf = [control for control in effect.controls if control.settable and control.steps == 0]
    for nudge in (0.01, 0.37):
        stood = {control.index: control.raw() for control in deaf}
        for control in deaf:
            control.put(stood[control.index] + (nudge if stood[control.index] < 0.5 else -nudge))
        settle(effect, channels, rate_hz, block_frames)
        told = effect.told_positions()
        for control in deaf:
            control.put(stood[control.index])
        settle(effect, channels, rate_hz, block_frames)
        deaf = [control for control in deaf if abs(told[control.index] - before[control.index]) <= STUCK]
    return frozenset(control.index for control in deaf)


def _setting(control: Control) -> Setting:
    raw = control.raw()
    return Setting(
        name=control.name, index=control.index, unit=shown_unit(control), raw=raw, text=control.text_at(raw),
        texts=tuple(control.text_at(share) for share in TENTHS), steps=control.steps, choices=choices(control),
    )  # fmt: skip
