"""From the words of a chain file to a stage's own settings: handles, trims and bypass."""

from __future__ import annotations

from dataclasses import replace

from sweeper.chain.model import TRIMS, FromDialled, Handle, Number, SettingRef, SettingValue, Stage, Travel
from sweeper.plan.reach_terms import Direction

BYPASS = "bypass"


def handle_of(stage: Stage, name: str) -> Handle | None:
    """The stage's handle of that name, if it has one."""
    return next((handle for handle in stage.handles if handle.name == name), None)


def setting_of(stage: Stage, ref: SettingRef) -> str:
    """The setting that a reference means: what its handle stands for, else its own words."""
    handle = handle_of(stage, ref.setting)
    return handle.setting if handle else ref.setting


def direction_of(stage: Stage, ref: SettingRef) -> Direction:
    """Which way of the setting drives harder: as the handle says; unknown for a plain setting.

    An input trim drives harder when it is raised.
    """
    handle = handle_of(stage, ref.setting)
    if ref.ride:
        return Direction.UNKNOWN
    if handle is not None and handle.direction:
        return Direction.RAISE if handle.direction == "raise" else Direction.LOWER
    return Direction.RAISE if setting_of(stage, ref) in TRIMS else Direction.UNKNOWN


def value_of(stage: Stage, ref: SettingRef, value: SettingValue) -> SettingValue:
    """What a value means for the control behind a reference.

    A step from where a handle is dialled is a step to more of what it does: one up on `drive: lower Threshold` lowers
    the threshold. So one step serves alternatives that are driven in opposite ways.
    """
    handle = handle_of(stage, ref.setting)
    if not isinstance(value, FromDialled) or handle is None or handle.direction != "lower":
        return value
    offset = value.offset
    if isinstance(offset, Number):
        return replace(value, offset=replace(offset, value=-offset.value))
    return replace(value, offset=replace(offset, fraction=-offset.fraction))


def counts_down(stage: Stage, ref: SettingRef) -> bool:
    """Whether a relative ride's amount counts the other way than its control does."""
    handle = handle_of(stage, ref.setting)
    return bool(ref.ride) and ref.word == "by" and handle is not None and handle.direction == "lower"


def amount_of(stage: Stage, ref: SettingRef, amount: SettingValue, relative: bool) -> SettingValue:
    """A ride's amount as a value of the control behind it: a `FromDialled` where it is relative.

    A step of a handle is one towards more of it, as in `value_of`.
    """
    if not relative or not isinstance(amount, Number | Travel):
        return amount
    return value_of(stage, ref, FromDialled(amount, amount.text))
