"""Whether a plugin made of a saved state what is in it. Imported in workers only.

A plugin answers a state with silence, whatever it makes of it. So it is asked to save again. What it saves is what it
was given, or it is in doubt; then another instance that is given what was saved must come to stand where it says.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Protocol

from sweeper.errors import StateError
from sweeper.host.control import Control
from sweeper.host.resolve import tidy
from sweeper.host.settings import PATIENCE_BLOCKS, STUCK
from sweeper.host.state_file import DIAL_IT, Preset, preset_in

#: How far a control is moved for trial, as a share of its way.
_NUDGE = 0.37


class Restoring(Protocol):
    """A plugin instance that saves and takes states."""

    name: str

    @property
    def controls(self) -> Sequence[Control]:
        """Every control, in the plugin's own order."""
        ...

    def save_state(self) -> bytes:
        """Its state as .vstpreset data."""
        ...

    def take_state(self, data: bytes) -> None:
        """Give it a state. Raises StateError when it refuses."""
        ...

    def settle(self) -> None:
        """Run a block of silence."""
        ...


def load_checked(plugin: Restoring, data: bytes, file: str, second: Callable[[], Restoring] | None) -> None:
    """Give a plugin the state of a `.vstpreset`, and make sure that it took it.

    file: the name, for messages. second: opens another instance; None = there may be no other, and the plugin itself
    is given what it saved. Raises StateError when the file is damaged or another plugin's, when the plugin refuses it,
    takes no notice of it, or does not come back to where it stood.
    """
    wanted = preset_in(data, file)
    at_load = _standing(plugin)
    _refuse_foreign(plugin, wanted, file)
    if _component(plugin) == wanted.component:  # one that has no settings refuses even its own state
        return
    _give(plugin, data)
    if _component(plugin) == wanted.component:
        return
    other = second() if second else plugin
    if fault := _astray(plugin, other, at_load) or _own_fault(other, second() if second else plugin, at_load):
        raise StateError(f"{plugin.name} does not restore the state {file}: {fault}",
                         "set its settings by name in the chain file; one that does not stick is told")  # fmt: skip
    if second is None:
        _give(plugin, data)


def _refuse_foreign(plugin: Restoring, wanted: Preset, file: str) -> None:
    own = preset_in(plugin.save_state(), plugin.name)
    if wanted.class_id != own.class_id:
        raise StateError(
            f"the state {file} is of another plugin than {plugin.name}: class {wanted.class_id}, not {own.class_id}",
            f"take a state that {plugin.name} saved, or {DIAL_IT}",
        )


def _component(plugin: Restoring) -> bytes:
    return preset_in(plugin.save_state(), plugin.name).component


def _give(plugin: Restoring, data: bytes) -> None:
    """Give a plugin a state, and silence until it has come to it, where it comes to it."""
    plugin.take_state(data)
    for _ in range(PATIENCE_BLOCKS):
        plugin.settle()
        if _component(plugin) == preset_in(data, plugin.name).component:
            return


def _told(other: Restoring, data: bytes) -> dict[int, float]:
    """Where a saved state says that the controls stand, by index, read by another instance."""
    other.take_state(data)
    return _standing(other)


def _astray(plugin: Restoring, other: Restoring, at_load: Mapping[int, float]) -> str:
    """A setting that does not come back in another instance, in words; "" = none. What moves by itself is a meter."""
    saved = plugin.save_state()
    _wait(plugin)
    later = plugin.save_state()
    restless = {control.index for control in _apart(other.controls, _told(other, later), _told(other, saved))}
    stood = _standing(other)
    _give(other, saved)
    lost = _apart(other.controls, _told(other, other.save_state()), stood)
    return _first_in_words(other, [c for c in lost if c.index not in restless], stood, at_load)


def _first_in_words(
    plugin: Restoring, lost: Sequence[Control], stood: Mapping[int, float], at_load: Mapping[int, float]
) -> str:
    """The first of the lost controls that makes a difference to a state, with where it stood and stands."""
    now = {control.index: tidy(control.text_at(control.raw())) for control in lost}
    for control in lost:
        if _is_in_states(plugin, control.index, at_load):
            was = tidy(control.text_at(stood[control.index]))
            return f"'{control.name}' stood at {was}, and at {now[control.index]} when that was saved and loaded"
    return ""


def _own_fault(plugin: Restoring, other: Restoring, at_load: Mapping[int, float]) -> str:
    """What is lost of a state that the plugin saves itself, every setting moved, in words; "" = nothing to be told.

    Nothing is told of a plugin whose states differ by themselves: a meter in them is as good a reason as a fault.
    """
    steady = _component(plugin)
    plugin.settle()
    if _component(plugin) != steady:
        return ""
    _put_all(plugin, {index: _nudged(raw) for index, raw in at_load.items()})
    moved, stood = plugin.save_state(), _standing(plugin)
    if other is plugin:
        _put_all(plugin, at_load)
    before = _component(other)
    _give(other, moved)
    made = _component(other)
    if made == preset_in(moved, plugin.name).component:
        return ""
    if made == before:
        return "it takes no notice of states"
    lost = _apart(other.controls, _told(other, other.save_state()), stood)
    return _first_in_words(plugin, lost, stood, at_load)


def _is_in_states(plugin: Restoring, index: int, at_load: Mapping[int, float]) -> bool:
    """Whether a control that is moved makes another state: what the plugin leaves out, or shows only, does not."""
    control = next(control for control in plugin.controls if control.index == index)
    states = []
    for raw in (at_load[index], _nudged(at_load[index])):
        control.put(raw)
        plugin.settle()
        states.append(_component(plugin))
    return states[0] != states[1]


def _put_all(plugin: Restoring, positions: Mapping[int, float]) -> None:
    """Move all continuous settings: a switch may well move others."""
    for control in plugin.controls:
        if control.settable and control.steps == 0:
            control.put(positions[control.index])
    _wait(plugin)


def _wait(plugin: Restoring) -> None:
    for _ in range(PATIENCE_BLOCKS):
        plugin.settle()


def _nudged(raw: float) -> float:
    return raw + (_NUDGE if raw < 0.5 else -_NUDGE)


def _standing(plugin: Restoring) -> dict[int, float]:
    return {control.index: control.raw() for control in plugin.controls}


def _apart(controls: Sequence[Control], now: Mapping[int, float], then: Mapping[int, float]) -> list[Control]:
    """The settings that show something else now than then."""
    moved = [c for c in controls if c.settable and abs(now[c.index] - then[c.index]) > STUCK]
    return [c for c in moved if c.text_at(now[c.index]) != c.text_at(then[c.index])]
