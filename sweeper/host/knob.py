"""A setting of a hosted stage as a number that a solver can turn. Imported in workers only."""

from __future__ import annotations

import math

from sweeper.chain.model import TRIMS, Number, Travel
from sweeper.errors import SettingError
from sweeper.host.resolve import number_at, shown_unit, span
from sweeper.host.setup import Dialled
from sweeper.host.stage import HostedStage

#: How far a trim may be turned by a solver.
TRIM_RANGE_DB = (-40.0, 40.0)


class Knob:
    """One numeric setting, turned in the unit that the plugin shows.

    A control that shows no numbers is turned in % travel. low, high: the ends of its range.
    """

    def __init__(self, stage: HostedStage, name: str, side: str) -> None:
        self._stage = stage
        self.name = name
        self._side = side
        if name in TRIMS:
            self.unit, (self.low, self.high) = "dB", TRIM_RANGE_DB
            return
        if not (controls := stage.controls(name, side)):
            raise SettingError(f"'{stage.setup.name}' is bypassed, its '{name}' cannot be solved", "take bypass out")
        self._control = controls[0]
        self.name = self._control.name
        self.low, self.high = span(self._control)
        self.unit = shown_unit(self._control)
        self._by_travel = math.isnan(self.low) or self.low == self.high
        if self._by_travel:
            self.unit, self.low, self.high = "% travel", 0.0, 100.0

    def now(self) -> float:
        """Where the setting stands, in `unit`."""
        if self.name in TRIMS:
            return self._stage.trims_db[self.name]
        raw = self._control.raw()
        return 100.0 * raw if self._by_travel else number_at(self._control, raw)

    def turn(self, value: float) -> float:
        """Set it, read it back, and say where it stands. Raises SettingError when it did not stick."""
        text = f"{value:.6g} {self.unit}".strip()
        if self.unit == "% travel":
            asked: Number | Travel = Travel(value / 100.0, text)
        else:
            asked = Number(value, self.unit, text)
        self._stage.adjust(Dialled(self.name, self._side, asked))
        return self.now()
