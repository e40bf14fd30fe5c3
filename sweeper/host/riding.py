"""Where ridden settings of a stage stand at each moment. Imported in workers only."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sweeper.chain.model import BLEND, FromDialled, Number, SettingValue, Travel
from sweeper.chain.own_settings import own_range
from sweeper.errors import SettingError
from sweeper.host.control import Control
from sweeper.host.curve import Curve
from sweeper.host.resolve import resolve, snapped
from sweeper.host.scale import nearest_position
from sweeper.host.setup import RideSetup
from sweeper.host.shown import number_at, shown_unit
from sweeper.host.stepping import stepped
from sweeper.units import Amount, same_unit


@dataclass(frozen=True)
class Move:
    """A ride with how far it goes: a position, dB or a share; from where the setting stands, or absolute.

    stopped: it would have gone further, had the control not ended there.
    """

    ride: RideSetup
    curve: Curve
    amount: float
    stopped: bool = False


def ridden(base: float, moves: Sequence[Move], shares: Sequence[float | np.ndarray]) -> float | np.ndarray:
    """Where a setting stands: absolute rides first, then what the relative ones add."""
    value: float | np.ndarray = base
    for move, share in zip(moves, shares, strict=True):
        if not move.ride.relative:
            value = value + share * (move.amount - base)
    for move, share in zip(moves, shares, strict=True):
        if move.ride.relative:
            value = value + share * move.amount
    return value


class RiddenControl:
    """One control of one plugin instance that is ridden. base: its position outside every stretch."""

    def __init__(self, control: Control, rides: Sequence[RideSetup], rate_hz: int) -> None:
        self.control = control
        self.base = control.raw()
        self.moves = tuple(self._move(ride, rate_hz) for ride in rides)
        self._stands = self.base

    def _move(self, ride: RideSetup, rate_hz: int) -> Move:
        if not ride.relative:
            return Move(ride, Curve(ride, rate_hz), absolute_target(self.control, ride.amount))
        target, stopped = relative_target(self.control, self.base, ride.amount)
        return Move(ride, Curve(ride, rate_hz), target - self.base, stopped)

    def ride(self, first: int, end: int) -> None:
        """Put the control where it belongs for audio from frame `first` to `end`."""
        shares = [move.curve.over(first, end) for move in self.moves]
        raw = snapped(self.control, min(1.0, max(0.0, float(ridden(self.base, self.moves, shares)))))
        if raw != self._stands:
            self.control.put(raw)
            self._stands = raw

    def home(self) -> bool:
        """Put the control back to where it stands outside every stretch; whether it was elsewhere."""
        moved = self._stands != self.base
        if moved:
            self.control.put(self.base)
            self._stands = self.base
        return moved

    def targets(self) -> tuple[float, ...]:
        """Where each ride takes it, by itself."""
        goals = (m.amount if not m.ride.relative else self.base + m.amount for m in self.moves)
        return tuple(min(1.0, max(0.0, goal)) for goal in goals)


def absolute_target(control: Control, amount: SettingValue) -> float:
    """The position that shows `amount`; of a number that no position shows, the nearest. Raises SettingError."""
    try:
        return resolve(control, amount)
    except SettingError:
        number = _in_shown_unit(control, amount)
        if number is None or nearest_position(control, number)[1]:
            raise
        return nearest_position(control, number)[0]


def _in_shown_unit(control: Control, amount: SettingValue) -> float | None:
    if not isinstance(amount, Number):
        return None
    return same_unit(Amount(amount.value, amount.unit or shown_unit(control)), shown_unit(control))


def relative_target(control: Control, base: float, amount: SettingValue) -> tuple[float, bool]:
    """(the position that lies `amount` away from `base`, whether the control ends before).

    The control stands at `base`. Where no position shows just that, it is the nearest. Raises SettingError for an
    amount in another unit than the control's.
    """
    if not isinstance(amount, Number | Travel):
        raise SettingError(f"'{control.name}' cannot be ridden by {amount.text}", "write a number, or e.g. 5 % travel")
    if isinstance(amount, Travel):
        raw = base + amount.fraction
        return snapped(control, min(1.0, max(0.0, raw))), not -1e-6 <= raw <= 1 + 1e-6
    try:
        return stepped(control, FromDialled(amount, amount.text), None), False
    except SettingError:
        number, stands = _in_shown_unit(control, amount), number_at(control, base)
        if number is None or not math.isfinite(stands):  # it shows "Off", say: nothing to step from
            raise
        return nearest_position(control, stands + number)


def own_move(ride: RideSetup, rate_hz: int, base: float, is_fader: bool) -> Move:
    """A ride of a trim or of blend that stands at `base`. Raises SettingError for an amount in another unit."""
    amount = own_value(ride.setting, ride.amount)
    goal = base + amount if ride.relative else amount
    low, high = own_ends(ride.setting, is_fader)
    return Move(ride, Curve(ride, rate_hz), amount, not low - 1e-9 <= goal <= high + 1e-9)


def own_ends(name: str, is_fader: bool) -> tuple[float, float]:
    """The range of a trim or a level in dB, or of blend as a share."""
    low, high, unit = own_range(name, is_fader)
    return (low / 100, high / 100) if unit == "%" else (low, high)


def own_value(name: str, value: SettingValue) -> float:
    """The value of a trim in dB, or of blend as a share, 1.0 = 100 %. Raises SettingError for another unit."""
    unit = "%" if name == BLEND else "dB"
    if isinstance(value, Number) and value.unit in ("", unit):
        return value.value / 100 if unit == "%" else value.value
    raise SettingError(f"'{name}' cannot be {value.text}",
                       "it is a gain in dB, e.g. -1.5 dB" if unit == "dB" else "it is a share, e.g. 70 %")  # fmt: skip
