"""A setting of a hosted stage as a number that a solver can turn. Imported in workers only."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from sweeper.chain.model import TRIMS, Number, Travel
from sweeper.errors import SettingError
from sweeper.host.control import Control
from sweeper.host.settings import control_named
from sweeper.host.setup import Dialled
from sweeper.host.shown import number_at, positions_of, shown_unit
from sweeper.host.stage import HostedStage

#: How far a trim may be turned by a solver.
TRIM_RANGE_DB = (-40.0, 40.0)


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
        if name in TRIMS:
            self.unit, (self.low, self.high) = "dB", TRIM_RANGE_DB
            return
        if not (controls := stage.controls(name, side)):
            raise SettingError(f"'{stage.setup.name}' is bypassed, its '{name}' cannot be solved", "take bypass out")
        self._control = controls[0]
        self.name = self._control.name
        self.unit, self._raws, self._numbers = scale(self._control)
        self.low, self.high = float(self._numbers[0]), float(self._numbers[-1])
        if self._control.steps >= 2:
            self.steps = tuple(float(number) for number in self._numbers)

    def now(self) -> float:
        """Where the setting stands, in `unit`."""
        if self.name in TRIMS:
            return self._stage.trims_db[self.name]
        order = np.argsort(self._raws)
        number = float(np.interp(self._control.raw(), self._raws[order], self._numbers[order]))
        return min(self.steps, key=lambda step: abs(step - number)) if self.steps else number

    def turn(self, value: float) -> float:
        """Set it, read it back, and say where it stands. Raises SettingError when it did not stick."""
        text = f"{value:.6g} {self.unit}".strip()
        if self.name in TRIMS:
            self._stage.adjust(Dialled(self.name, self._side, Number(value, "dB", text)))
        else:
            raw = float(np.interp(value, self._numbers, self._raws))
            self._stage.adjust(Dialled(self.name, self._side, Travel(raw, text)))
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
