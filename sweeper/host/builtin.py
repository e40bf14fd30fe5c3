"""A built-in effect hosted like any other plugin."""

from __future__ import annotations

from importlib.metadata import version
from typing import Any

import numpy as np
import pedalboard

from sweeper.host.builtin_table import BY_NAME, PREFIX, BuiltinSetting


class BuiltinControl:
    """A control of a built-in effect; its position runs linearly over the range in builtin_table."""

    settable = automatable = True

    def __init__(self, effect: BuiltinEffect, setting: BuiltinSetting, index: int) -> None:
        self._effect = effect
        self._setting = setting
        self.index = index
        self.name = setting.name
        self.unit = setting.unit
        self.steps = len(setting.choices)

    def raw(self) -> float:
        """Where the control stands, 0.0 to 1.0."""
        setting = self._setting
        value = self._effect.value_of(setting)
        if setting.choices:
            name = getattr(value, "name", None) or ("on" if value else "off")
            return setting.choices.index(name) / (self.steps - 1)
        return min(1.0, max(0.0, (float(value) - setting.low) / (setting.high - setting.low)))

    def put(self, raw: float) -> None:
        """Move the control to `raw`."""
        self._effect.set_value(self._setting, self._value(raw))

    def text_at(self, raw: float) -> str:
        """The value at `raw`, to nine decimals at most."""
        value = self._value(raw)
        return value if isinstance(value, str) else repr(value)

    def _value(self, raw: float) -> float | str:
        setting = self._setting
        if setting.choices:
            return setting.choices[round(raw * (self.steps - 1))]
        return float(round(setting.low + raw * (setting.high - setting.low), 9)) + 0.0


class BuiltinEffect:
    """One instance of a built-in effect. Takes any number of channels, and handles each by itself."""

    maker = "built in"
    identifier = ""
    note = ""

    def __init__(self, path: str) -> None:
        table = BY_NAME[path[len(PREFIX) :]]
        self._class: Any = getattr(pedalboard, table.name)
        self._effect: Any = self._class()
        if table.name == "Gain":
            self._effect.gain_db = 0.0  # the library's own is +1 dB; an effect that nobody set does nothing
        self.name = table.name
        self.version = version("pedalboard")
        self.category = table.category
        self.note = table.note
        self.controls = tuple(BuiltinControl(self, setting, i) for i, setting in enumerate(table.settings))
        self._settings = table.settings

    @property
    def latency_frames(self) -> int:
        """0: the library takes a built-in effect's delay out by itself, and reports none."""
        return 0

    def told_positions(self) -> dict[int, float]:
        """Where the effect itself says that its controls stand, by index."""
        return {control.index: control.raw() for control in self.controls}

    def value_of(self, setting: BuiltinSetting) -> Any:
        """The library's value of a setting."""
        return getattr(self._effect, setting.attribute)

    def set_value(self, setting: BuiltinSetting, value: float | str) -> None:
        """Set the library's value; a setting that needs a restart gets a fresh instance with the rest kept."""
        if setting.restart:
            kept = {s.attribute: getattr(self._effect, s.attribute) for s in self._settings}
            kept[setting.attribute] = _native(self._class, setting, value)
            self._effect = self._class(**kept)
        else:
            setattr(self._effect, setting.attribute, _native(self._class, setting, value))

    def reset(self) -> None:
        """Forget all audio heard so far."""
        self._effect.reset()

    def process(self, block: np.ndarray, rate_hz: int, block_frames: int) -> np.ndarray:
        """Run (channels, frames) float32 through; what comes back may be shorter at first (look-ahead)."""
        out: np.ndarray = self._effect.process(block, rate_hz, buffer_size=block_frames, reset=False)
        return out


def _native(effect_class: Any, setting: BuiltinSetting, value: float | str) -> Any:
    if setting.choices == ("off", "on"):
        return value == "on"
    if setting.choices:
        return getattr(effect_class.Mode, str(value))
    return value
