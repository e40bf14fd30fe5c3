"""Describing a loaded plugin. Imported in workers only."""

from __future__ import annotations

from collections.abc import Sequence

from sweeper.host.control import Control, choices
from sweeper.host.deaf import deaf
from sweeper.host.described import TENTHS, Plugin, Setting
from sweeper.host.effect import Effect, channels_of
from sweeper.host.shown import shown_unit


def describe(effect: Effect, path: str, rate_hz: int, block_frames: int, find_meters: bool = True,
             controls: Sequence[Control] | None = None) -> Plugin:  # fmt: skip
    """Everything `sweeper plugins NAME` shows, read after a block of silence.

    Controls that take no value are meters: they are hidden, with those that the host owns. find_meters: False leaves
    them among the settings, and loads the plugin no further times. controls: the plugin's own, with what is remembered
    of their texts; None = all is asked.
    """
    channels = channels_of(effect, rate_hz, block_frames)
    meters = deaf(effect, effect.controls, channels, rate_hz, block_frames) if find_meters else frozenset()
    every = effect.controls if controls is None else controls
    offered = [control for control in every if control.settable and control.index not in meters]
    return Plugin(
        name=effect.name, path=path, maker=effect.maker, version=effect.version, identifier=effect.identifier,
        category=effect.category, channels=channels, latency_frames=effect.latency_frames,
        settings=tuple(_setting(control) for control in offered),
        hidden=tuple(control.name for control in every if control not in offered),
        note=effect.note,
    )  # fmt: skip


def _setting(control: Control) -> Setting:
    raw = control.raw()
    return Setting(
        name=control.name, index=control.index, unit=shown_unit(control), raw=raw, text=control.text_at(raw),
        texts=tuple(control.text_at(share) for share in TENTHS), steps=control.steps, choices=choices(control),
    )  # fmt: skip
