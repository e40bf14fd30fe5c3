"""A setting of a hosted stage as a number that a solver can turn. Imported in workers only."""

from __future__ import annotations

import numpy as np

from sweeper.chain.model import OWN_SETTINGS, Number, Travel
from sweeper.chain.own_settings import own_range
from sweeper.errors import SettingError
from sweeper.host.scale import scale
from sweeper.host.setup import Dialled
from sweeper.host.stage import HostedStage
from sweeper.host.tables import tabled, texts_folder
from sweeper.units import Amount, same_unit


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
            self.low, self.high, self.unit = own_range(name, stage.setup.is_fader)
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
    sign: -1 where more of the ride's handle is less of its control: then it is turned as the chain file counts.
    """

    def __init__(self, stage: HostedStage, ride: str, sign: int = 1) -> None:
        self._stage = stage
        self._ride = next(one for one in stage.setup.rides if one.name == ride)
        self._sign = sign
        self.name = self._ride.setting
        self.word = "by" if self._ride.relative else "to"
        base = Knob(stage, self._ride.setting, self._ride.side)
        steps = base.steps
        if isinstance(self._ride.amount, Travel):
            raw = stage.controls(self.name, self._ride.side)[0].raw()
            self.unit, low, high, at, steps = "% travel", 0.0, 100.0, 100 * raw, ()
        else:
            self.unit, low, high, at = base.unit, base.low, base.high, base.now()
        off = at if self._ride.relative else 0.0
        self.low, self.high = sorted((sign * (low - off), sign * (high - off)))
        self.steps = tuple(sorted(sign * (step - off) for step in steps))

    def now(self) -> float:
        """The amount, in `unit`, as the chain file counts it."""
        ride = next(one for one in self._stage.setup.rides if one.name == self._ride.name)
        if isinstance(ride.amount, Travel):
            return self._sign * 100 * ride.amount.fraction
        assert isinstance(ride.amount, Number)
        shown = same_unit(Amount(ride.amount.value, ride.amount.unit or self.unit), self.unit)
        if shown is None:
            raise SettingError(f"the ride '{ride.name}' cannot be solved in {ride.amount.unit}",
                               f"give its amount in {self.unit}")  # fmt: skip
        return self._sign * shown

    def turn(self, value: float) -> float:
        """Set it, and say where it stands."""
        text, own = f"{value:.6g} {self.unit}".strip(), self._sign * value
        amount = Travel(own / 100, text) if self.unit == "% travel" else Number(own, self.unit, text)
        self._stage.adjust(Dialled(self.name, self._ride.side, amount, ride=self._ride.name))
        return self.now()
