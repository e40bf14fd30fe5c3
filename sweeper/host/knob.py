"""A setting of a hosted stage as a number that a solver can turn. Imported in workers only."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from sweeper.chain.model import BLEND, OWN_SETTINGS, Number, Travel
from sweeper.errors import SettingError
from sweeper.host.control import Control
from sweeper.host.settings import control_named
from sweeper.host.setup import OWN_UNITS, Dialled
from sweeper.host.shown import number_at, positions_of, shown_unit
from sweeper.host.stage import HostedStage
from sweeper.host.tables import tabled, texts_folder
from sweeper.units import Amount, same_unit

#: How far a stage's own settings may be turned by a solver, in their units.
OWN_RANGES = {"input trim": (-40.0, 40.0), "output trim": (-40.0, 40.0), BLEND: (0.0, 100.0)}


class Knob:
    """One numeric setting, turned in the unit that the plugin shows.

    Between the positions that were looked at, numbers are taken to run straight, so that a plugin that shows whole
    numbers only can still be turned finely. A control that shows no numbers, or numbers that go back and forth, is
    turned in % travel. low, high: the ends of its range. steps: the numbers of a stepped control, else ().
    """

    def __init__(self, stage: HostedStage, name: str, side: str) -> None:
        self._stage = stage
        self.name = name
        self._side = side
        self.steps: tuple[float, ...] = ()
        if name in OWN_SETTINGS:
            self.unit, (self.low, self.high) = OWN_UNITS[name], OWN_RANGES[name]
            return
        if not (controls := stage.controls(name, side)):
            raise SettingError(f"'{stage.setup.name}' is bypassed, its '{name}' cannot be solved", "take bypass out")
        self._control = controls[0]
        self.name = self._control.name
        with tabled(stage.setup.path, [self._control], texts_folder()) as (known,):
            self.unit, self._raws, self._numbers = scale(known)
        self.low, self.high = float(self._numbers[0]), float(self._numbers[-1])
        if self._control.steps >= 2:
            self.steps = tuple(float(number) for number in self._numbers)

    def now(self) -> float:
        """Where the setting stands, in `unit`."""
        if self.name in OWN_SETTINGS:
            return self._stage.own[self.name] * (100 if self.unit == "%" else 1)
        order = np.argsort(self._raws)
        number = float(np.interp(self._control.raw(), self._raws[order], self._numbers[order]))
        return min(self.steps, key=lambda step: abs(step - number)) if self.steps else number

    def turn(self, value: float) -> float:
        """Set it, read it back, and say where it stands. Raises SettingError when it did not stick."""
        text = f"{value:.6g} {self.unit}".strip()
        if self.name in OWN_SETTINGS:
            self._stage.adjust(Dialled(self.name, self._side, Number(value, self.unit, text)))
        else:
            raw = float(np.interp(value, self._numbers, self._raws))
            self._stage.adjust(Dialled(self.name, self._side, Travel(raw, text)))
        return self.now()


class RideKnob:
    """The amount of a ride, turned in its unit: how far the setting goes, or where to.

    As `Knob`; an amount given as a share of travel is turned in % travel, every other in the unit that is shown.
    """

    steps: tuple[float, ...] = ()

    def __init__(self, stage: HostedStage, ride: str) -> None:
        self._stage = stage
        self._ride = next(one for one in stage.setup.rides if one.name == ride)
        self.name = self._ride.setting
        self.word = "by" if self._ride.relative else "to"
        base = Knob(stage, self._ride.setting, self._ride.side)
        if isinstance(self._ride.amount, Travel):
            raw = stage.controls(self.name, self._ride.side)[0].raw()
            self.unit, self.low, self.high, at = "% travel", 0.0, 100.0, 100 * raw
        else:
            self.unit, self.low, self.high, at = base.unit, base.low, base.high, base.now()
        if self._ride.relative:
            self.low, self.high = self.low - at, self.high - at

    def now(self) -> float:
        """The amount, in `unit`."""
        ride = next(one for one in self._stage.setup.rides if one.name == self._ride.name)
        if isinstance(ride.amount, Travel):
            return 100 * ride.amount.fraction
        assert isinstance(ride.amount, Number)
        shown = same_unit(Amount(ride.amount.value, ride.amount.unit or self.unit), self.unit)
        if shown is None:
            raise SettingError(f"the ride '{ride.name}' cannot be solved in {ride.amount.unit}",
                               f"give its amount in {self.unit}")  # fmt: skip
        return shown

    def turn(self, value: float) -> float:
        """Set it, and say where it stands."""
        text = f"{value:.6g} {self.unit}".strip()
        amount = Travel(value / 100, text) if self.unit == "% travel" else Number(value, self.unit, text)
        self._stage.adjust(Dialled(self.name, self._ride.side, amount, ride=self._ride.name))
        return self.now()


def scale(control: Control) -> tuple[str, np.ndarray, np.ndarray]:
    """(unit, positions, numbers) of a control, the numbers rising; "% travel" where it shows none that run one way."""
    raws = np.array(positions_of(control))
    numbers = np.array([number_at(control, raw) for raw in raws])
    finite = np.isfinite(numbers)
    raws, numbers = raws[finite], numbers[finite]
    rising, falling = np.all(np.diff(numbers) >= 0), np.all(np.diff(numbers) <= 0)
    if len(numbers) < 2 or numbers.min() == numbers.max() or not (rising or falling):
        ends = np.array(positions_of(control))
        return "% travel", ends, 100.0 * ends
    if falling:
        raws, numbers = raws[::-1], numbers[::-1]
    distinct = np.concatenate([[True], np.diff(numbers) > 0])
    return shown_unit(control), raws[distinct], numbers[distinct]


def is_number(control: Control) -> bool:
    """Whether a control can be solved: it is no switch and no list of words."""
    if control.steps == 0:
        return True
    return control.steps > 2 and all(math.isfinite(number_at(control, raw)) for raw in positions_of(control))


def solvable(controls: Sequence[Control], name: str) -> None:
    """Raise SettingError when the control of that name is missing, a switch, or a list of words."""
    control = control_named(controls, name)
    if not is_number(control):
        raise SettingError(f"'{control.name}' cannot be solved: it is no number", "name a setting that shows numbers")
