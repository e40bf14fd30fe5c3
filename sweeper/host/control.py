"""One control of a loaded plugin, whatever kind of plugin it is."""

from __future__ import annotations

from typing import Protocol


class Control(Protocol):
    """A control as the host sees it. Positions (raw) run from 0.0 to 1.0.

    name, unit: as the plugin shows them; unit "" where it shows none. steps: how many positions it has,
    0 = continuous. settable: False for what the host owns. automatable: False for what the plugin says is not moved by
    a host: its meters, and some of its settings.
    """

    name: str
    unit: str
    index: int
    steps: int
    settable: bool
    automatable: bool

    def raw(self) -> float:
        """Where the control stands."""
        ...

    def put(self, raw: float) -> None:
        """Move the control to `raw`."""
        ...

    def text_at(self, raw: float) -> str:
        """What the plugin would show at `raw`, without moving the control."""
        ...


MOST_CHOICES = 64


def step_positions(control: Control) -> tuple[float, ...]:
    """The raw positions of a stepped control; () for a continuous one."""
    if control.steps < 2:
        return ()
    return tuple(step / (control.steps - 1) for step in range(control.steps))


def choices(control: Control) -> tuple[str, ...]:
    """The text of every step of a control with at most 64 steps; () otherwise."""
    if not 2 <= control.steps <= MOST_CHOICES:
        return ()
    return tuple(control.text_at(raw) for raw in step_positions(control))
