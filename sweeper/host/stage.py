"""One stage at work: its plugin instances, its trims, and what it did. Imported in workers only."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from sweeper.audio.format import AudioFormat
from sweeper.chain.model import TRIMS, Channels, Number, SettingValue
from sweeper.errors import PluginError, SettingError
from sweeper.host.control import Control
from sweeper.host.effect import Effect, channels_of, open_effect, settle
from sweeper.host.fifo import Fifo
from sweeper.host.resolve import resolve
from sweeper.host.routing import narrowed, put_together, taken_apart, widened
from sweeper.host.settings import STUCK, confirm, control_named, put_and_read
from sweeper.host.setup import Dialled, StageSetup, plugin_word
from sweeper.records.sheet import Applied
from sweeper.units import gain


def _unheard() -> None:
    """Where nobody waits for a sign of life."""


class Instance:
    """One plugin instance of a stage, on the whole signal ("") or on one side of it."""

    def __init__(self, setup: StageSetup, side: str, format: AudioFormat, block_frames: int) -> None:
        self.side = side
        self.rate_hz = format.rate_hz
        self._block_frames = block_frames
        self.effect: Effect = open_effect(setup.path, setup.state)
        self.takes = channels_of(self.effect, format.rate_hz, block_frames)
        self.heard = 1 if side else format.channels
        if self.heard > self.takes:
            raise PluginError(
                f"{self.effect.name} takes one channel, the mix has two",
                "give the stage `channels: left/right`, `mid/side`, `mid` or `side`, or use a stereo plugin",
            )

    def silence(self) -> None:
        """Run one block of silence."""
        settle(self.effect, self.takes, self.rate_hz, self._block_frames)

    def process(self, block: np.ndarray) -> np.ndarray:
        """Run (channels, frames), frames a multiple of the block size; may give less back at first."""
        fed = np.ascontiguousarray(widened(block, self.takes), np.float32)
        return narrowed(self.effect.process(fed, self.rate_hz, self._block_frames), self.heard)


class HostedStage:
    """A stage with its plugins loaded and its settings made.

    Raises PluginError, SettingError or StateError while it is made. plugin_s: time spent inside the plugins.
    """

    def __init__(self, setup: StageSetup, format: AudioFormat, block_frames: int,
                 alive: Callable[[], None] = _unheard) -> None:  # fmt: skip
        """alive: called before every load of a plugin, so that one slow load is not taken for a hang."""
        if format.channels == 1 and setup.channels is not Channels.STEREO:
            raise PluginError(f"a mono mix has no {setup.channels.value}", "take `channels` out of the stage")
        self.setup = setup
        self.format = format
        self.trims_db = dict(zip(TRIMS, (setup.input_trim_db, setup.output_trim_db), strict=True))
        self.plugin_s = 0.0
        self.instances: tuple[Instance, ...] = ()
        self._alive = alive
        for side in () if setup.bypass else setup.channels.sides:
            alive()
            self.instances = (*self.instances, Instance(setup, side, format, block_frames))
        self._applied: dict[tuple[str, str], Applied] = {}
        self._make(setup.settings)
        self.confirm()
        self.reset()

    @property
    def label(self) -> str:
        """The stage as messages name it: 'glue' (My Compressor)."""
        return stage_label(self.setup.name, self.setup.path)

    @property
    def applied(self) -> tuple[Applied, ...]:
        """Every setting made, as read back, in the order of making."""
        return tuple(self._applied.values())

    @property
    def latency_frames(self) -> int:
        """The longest delay that its plugins report; it is taken out of what comes back."""
        return max((i.effect.latency_frames for i in self.instances), default=0)

    def _make(self, settings: tuple[Dialled, ...]) -> None:
        for instance in self.instances:
            own = [s for s in settings if s.side in ("", instance.side) and s.name not in TRIMS]
            targets = [(control_named(instance.effect.controls, s.name), s.value) for s in own]
            positions = _last_of_each([(control, resolve(control, value), value.text) for control, value in targets])
            for applied in put_and_read(positions, instance.side, instance.silence):
                self._applied[(applied.side, applied.name)] = applied
        for setting in settings:
            if setting.name in TRIMS:
                self.trims_db[setting.name] = trim_db(setting.name, setting.value)

    def confirm(self, only: str = "") -> None:
        """Hold what was read back against the plugins' own word. Raises SettingError for what did not stick.

        only: the name of the one setting to look at; "" = all.
        """
        for instance in self.instances:
            made = [applied for applied in self._applied.values() if applied.side == instance.side]
            made = [applied for applied in made if only in ("", applied.name)]
            if made:
                self._alive()
                confirm(instance.effect.controls, made, instance.effect.told_positions())

    def adjust(self, setting: Dialled) -> None:
        """Move one setting of the stage, in every instance that it is for, and read it back."""
        self._make((setting,))

    def controls(self, name: str, side: str) -> tuple[Control, ...]:
        """The control of that name in every instance that `side` means ("" = all)."""
        return tuple(control_named(i.effect.controls, name) for i in self.instances if side in ("", i.side))

    def reset(self) -> None:
        """Forget all audio, ready for a render."""
        self._waiting = {side: Fifo(1 if side else self.format.channels) for side in self._sides()}
        for instance in self.instances:
            self._alive()
            instance.effect.reset()

    def _sides(self) -> tuple[str, ...]:
        if self.setup.channels in (Channels.MID, Channels.SIDE):
            return ("mid", "side")
        return self.setup.channels.sides

    def push(self, block: np.ndarray) -> np.ndarray:
        """Run (channels, frames) float32, frames a multiple of the block size, through the stage.

        What comes back is aligned to what went in since `reset`, and shorter while a delay fills.
        """
        if self.setup.bypass:
            return block
        began = time.perf_counter()
        sides = taken_apart(block, self.setup.channels)
        for instance in self.instances:
            heard = _trimmed(sides[instance.side], self.trims_db["input trim"])
            sides[instance.side] = _trimmed(instance.process(heard), self.trims_db["output trim"])
        for side, part in sides.items():
            self._waiting[side].add(part)
        frames = min(fifo.frames for fifo in self._waiting.values())
        out = put_together({s: fifo.take(frames) for s, fifo in self._waiting.items()}, self.setup.channels)
        self.plugin_s += time.perf_counter() - began
        return out

    def drift(self) -> str:
        """A setting that by the plugin's own word no longer stands where it was read, in words; "" if none."""
        for instance in self.instances:
            made = [applied for applied in self._applied.values() if applied.side == instance.side]
            told = instance.effect.told_positions() if made else {}
            by_index = {control.index: control for control in instance.effect.controls}
            for applied in made:
                control, says = by_index[applied.index], told.get(applied.index, applied.raw)
                if abs(says - applied.raw) > STUCK and control.text_at(says) != applied.text:
                    return f"'{applied.name}' moved during the render: {applied.text}, then {control.text_at(says)}"
        return ""


def stage_label(name: str, path: str) -> str:
    """A stage as messages name it: 'glue' (My Compressor). path: its plugin's."""
    return f"'{name}' ({plugin_word(path)})"


def _last_of_each(positions: list[tuple[Control, float, str]]) -> list[tuple[Control, float, str]]:
    """Only the last position asked of each control, in the order of asking."""
    last = {control.index: number for number, (control, _, _) in enumerate(positions)}
    return [position for number, position in enumerate(positions) if last[position[0].index] == number]


def _trimmed(block: np.ndarray, trim_db: float) -> np.ndarray:
    if trim_db == 0.0:
        return block
    out: np.ndarray = block * np.float32(gain(trim_db))
    return out


def trim_db(name: str, value: SettingValue) -> float:
    """A trim's value in dB. Raises SettingError when it is not a level."""
    if isinstance(value, Number) and value.unit in ("", "dB"):
        return value.value
    raise SettingError(f"'{name}' cannot be {value.text}", "it is a gain in dB, e.g. -1.5 dB")
