"""One stage at work: its plugin instances, trims, blend and rides, and what it did. Imported in workers only."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from functools import partial

import numpy as np

from sweeper.audio.format import AudioFormat
from sweeper.chain.model import BLEND, OWN_SETTINGS, Channels
from sweeper.errors import PluginError
from sweeper.host.control import Control
from sweeper.host.curve import ridden_block_frames
from sweeper.host.fifo import Fifo
from sweeper.host.holding import held
from sweeper.host.instance import Instance
from sweeper.host.resolve import resolve
from sweeper.host.riding import Move, RiddenControl, own_ends, own_move, own_value, ridden
from sweeper.host.routing import put_together, taken_apart
from sweeper.host.settings import STUCK, confirm_settled, control_named, put_and_read
from sweeper.host.setup import Dialled, RideSetup, StageSetup, stage_label
from sweeper.records.sheet import Applied
from sweeper.units import gain

#: Called for a sign of life, with where things stand where there is something to say.
Alive = Callable[..., None]
#: Below this correlation the blended parts of a stage cancel rather than add.
AGAINST = -0.3


def _unheard(position: str = "") -> None:
    """Where nobody waits for a sign of life."""


class HostedStage:
    """A stage with its plugins loaded and its settings made; a fader has none, a bypassed stage needs none.

    Raises PluginError, SettingError or StateError while it is made. plugin_s: time spent inside the plugins. own: its
    trims in dB and its blend as a share, outside every ride.
    """

    def __init__(self, setup: StageSetup, format: AudioFormat, block_frames: int,
                 alive: Alive = _unheard) -> None:  # fmt: skip
        """alive: called before every load of a plugin, so that one slow load is not taken for a hang."""
        if format.channels == 1 and setup.channels is not Channels.STEREO:
            raise PluginError(f"a mono mix has no {setup.channels.value}", "take `channels` out of the stage")
        if setup.outside and not setup.bypass:
            raise PluginError(f"'{setup.name}' is outside: nothing here can render it", "bring back what it made")
        self.setup = setup
        self.format = format
        self.own = {"input trim": setup.input_trim_db, "output trim": setup.output_trim_db, BLEND: setup.blend}
        self.plugin_s = 0.0
        self.instances: tuple[Instance, ...] = ()
        self._alive = alive
        self._holding = held(setup, alive)
        of_controls = any(ride.setting not in OWN_SETTINGS for ride in setup.rides)
        own_block = ridden_block_frames(format.rate_hz, block_frames) if of_controls else block_frames
        for side in () if setup.bypass or setup.is_fader else setup.channels.sides:
            alive()
            self.instances = (*self.instances, Instance(setup, side, format, own_block))
        self._applied: dict[tuple[str, str], Applied] = {}
        self._own_moves: dict[str, tuple[Move, ...]] = {}
        self._make(setup.settings)
        self._take_rides()
        self._try_rides()
        self.reset()
        self.confirm()  # after a reset, which makes the plugin anew from what it saves of itself
        if any(instance.settling_blocks for instance in self.instances):
            self.reset()

    @property
    def label(self) -> str:
        """The stage as messages name it: 'glue' (My Compressor)."""
        return stage_label(self.setup.name, self.setup.path)

    @property
    def has_plugin(self) -> bool:
        """Whether a plugin is at work in it."""
        return bool(self.instances)

    @property
    def applied(self) -> tuple[Applied, ...]:
        """Every setting made, as read back, in the order of making."""
        return tuple(self._applied.values())

    @property
    def latency_frames(self) -> int:
        """The longest delay that its plugins report; it is taken out of what comes back."""
        return max((i.effect.latency_frames for i in self.instances), default=0)

    @property
    def tail_frames(self) -> int:
        """How much longer the sound gets in this stage."""
        return 0 if self.setup.bypass else round(self.setup.tail_s * self.format.rate_hz)

    def _make(self, settings: tuple[Dialled, ...]) -> None:
        for instance in self.instances:
            own = [s for s in settings if s.side in ("", instance.side) and s.name not in OWN_SETTINGS]
            targets = [(control_named(instance.effect.controls, s.name), s.value) for s in own]
            positions = _last_of_each([(control, resolve(control, value), value.text) for control, value in targets])
            for applied in put_and_read(positions, instance.side, instance.silence):
                self._applied[(applied.side, applied.name)] = applied
        for setting in settings:
            if setting.name in OWN_SETTINGS:
                self.own[setting.name] = own_value(setting.name, setting.value)

    def confirm(self, only: str = "") -> None:
        """Hold what was read back against the plugins' own word. Raises SettingError for what did not stick.

        only: the name of the one setting to look at; "" = all.
        """
        for instance in () if self.setup.instances else self.instances:
            made = [applied for applied in self._applied.values() if applied.side == instance.side]
            made = [applied for applied in made if only in ("", applied.name)]
            if made:
                told = partial(self._told, instance)
                waited = confirm_settled(instance.effect.controls, made, told, instance.silence)
                instance.settling_blocks = max(instance.settling_blocks, waited)

    def _told(self, instance: Instance) -> Mapping[int, float]:
        self._alive()
        return instance.effect.told_positions()

    def adjust(self, setting: Dialled) -> None:
        """Move one setting of the stage, in every instance that it is for, and read it back; or one ride's amount."""
        self.home()
        if setting.ride:
            self.setup = self.setup.with_setting(setting)
        else:
            self._make((setting,))
        self._take_rides()

    def controls(self, name: str, side: str) -> tuple[Control, ...]:
        """The control of that name in every instance that `side` means ("" = all)."""
        return tuple(control_named(i.effect.controls, name) for i in self.instances if side in ("", i.side))

    def _take_rides(self) -> None:
        """Find out where every ride leads from where the settings stand now."""
        rate_hz = self.format.rate_hz
        rides = () if self.setup.bypass else self.setup.rides
        fader = self.setup.is_fader
        self._own_moves = {name: tuple(own_move(r, rate_hz, self.own[name], fader) for r in rides if r.setting == name)
                           for name in OWN_SETTINGS}  # fmt: skip
        for instance in self.instances:
            found: dict[int, list[RideSetup]] = {}
            for ride in rides:
                if ride.setting not in OWN_SETTINGS and ride.side in ("", instance.side):
                    found.setdefault(control_named(instance.effect.controls, ride.setting).index, []).append(ride)
            by_index = {control.index: control for control in instance.effect.controls}
            instance.ridden = tuple(RiddenControl(by_index[i], own, rate_hz) for i, own in found.items())

    def _try_rides(self) -> None:
        """Go where each ride leads and back. Raises SettingError where the plugin does not follow."""
        for instance in self.instances:
            for one in instance.ridden:
                for raw, move in zip(one.targets(), one.moves, strict=True):
                    self._try_to_stand(instance, one.control, raw, move.ride.amount.text)
                    self._try_to_stand(instance, one.control, one.base, "where it stood")

    def _try_to_stand(self, instance: Instance, control: Control, raw: float, text: str) -> None:
        made = put_and_read([(control, raw, text)], instance.side, instance.silence)
        if not self.setup.instances:
            confirm_settled(instance.effect.controls, made, partial(self._told, instance), instance.silence)

    def home(self) -> None:
        """Put every ridden setting back to where it stands outside its rides."""
        for instance in self.instances:
            instance.home(instance.silence)

    @contextmanager
    def at_rest(self) -> Iterator[None]:
        """Within it no ride moves: every setting stands where it stands outside them."""
        ridden = self.setup
        self.home()
        self.setup = replace(ridden, rides=())
        self._take_rides()
        try:
            yield
        finally:
            self.setup = ridden
            self._take_rides()

    def moves(self) -> tuple[tuple[str, Move], ...]:
        """Every ride with how far it goes, by side; one that is for every side once for each."""
        own = [("", move) for moves in self._own_moves.values() for move in moves]
        return (*own, *((i.side, move) for i in self.instances for one in i.ridden for move in one.moves))

    def reset(self) -> None:
        """Forget all audio, ready for a render."""
        self.home()
        self._waiting = {side: Fifo(1 if side else self.format.channels) for side in self._sides()}
        self._dry = Fifo(self.format.channels)
        self._met = np.zeros(3)  # of the blended: both together, dry and wet by themselves
        self._came_in = 0
        self._came_out = dict.fromkeys((*self._waiting, "whole"), 0)
        for instance in self.instances:
            self._alive()
            instance.reset()

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
        out = self._leveled(block, "output trim", self._came_in) if self.setup.is_fader else self._blended(block)
        self._came_in += block.shape[1]
        self.plugin_s += time.perf_counter() - began
        return out

    def _blended(self, block: np.ndarray) -> np.ndarray:
        wet = self._wet(block)
        if self.own[BLEND] == 1 and not self._own_moves[BLEND]:
            return wet
        self._dry.add(block)
        first = self._came_out["whole"]
        self._came_out["whole"] += wet.shape[1]
        share = np.asarray(self._now(BLEND, first, wet.shape[1]), np.float32)
        dry = self._dry.take(wet.shape[1])
        self._met += [float(np.vdot(one, other)) for one, other in ((dry, wet), (dry, dry), (wet, wet))]
        out: np.ndarray = dry * (np.float32(1) - share) + wet * share
        return out

    def _wet(self, block: np.ndarray) -> np.ndarray:
        """What the plugins make of it, on the sides that they hear."""
        sides = taken_apart(block, self.setup.channels)
        for instance in self.instances:
            heard = self._leveled(sides[instance.side], "input trim", self._came_in)
            made = instance.process(heard)
            made = -made if self.setup.inverted else made
            sides[instance.side] = self._leveled(made, "output trim", self._came_out[instance.side])
            self._came_out[instance.side] += made.shape[1]
        for side, part in sides.items():
            self._waiting[side].add(part)
        frames = min(fifo.frames for fifo in self._waiting.values())
        return put_together({s: fifo.take(frames) for s, fifo in self._waiting.items()}, self.setup.channels)

    def _now(self, name: str, first: int, frames: int) -> float | np.ndarray:
        """One of the stage's own settings at `frames` frames from `first` on: one number, or (frames,).

        However rides add up, it stays in its range: nobody's ears or speakers are asked for more.
        """
        moves = self._own_moves[name]
        if not moves:
            return self.own[name]
        now = ridden(self.own[name], moves, [move.curve.at(first, frames) for move in moves])
        held = np.clip(now, *own_ends(name, self.setup.is_fader))
        return float(held) if isinstance(now, float) else held

    def _leveled(self, block: np.ndarray, trim: str, first: int) -> np.ndarray:
        trim_db = self._now(trim, first, block.shape[1])
        if isinstance(trim_db, float) and trim_db == 0.0:
            return block
        factor = gain(trim_db) if isinstance(trim_db, float) else 10.0 ** (trim_db / 20.0)
        out: np.ndarray = block * np.asarray(factor, np.float32)
        return out

    def notes(self) -> tuple[str, ...]:
        """What an engineer should know of how the plugin and what went in met."""
        both, dry, wet = self._met
        if both >= AGAINST * np.sqrt(dry * wet):
            return ()
        turn = "take `polarity` out of" if self.setup.inverted else "write `polarity: inverted` into"
        return (f"{self.label} comes out upside down and is blended with what went in: the two cancel; "
                f"{turn} the stage",)  # fmt: skip

    def drift(self) -> str:
        """What by the plugins' own word is no longer as it was set, in words; "" if all is."""
        for instance in self.instances:
            reports = instance.effect.latency_frames
            if reports != instance.reported_frames:
                return (f"its delay changed during the render, from {instance.reported_frames} to {reports} frames: "
                        "what came after is not aligned")  # fmt: skip
            if moved := "" if self.setup.instances else self._moved(instance):
                return moved
        stopped = dict.fromkeys(move.ride.name for _, move in self.moves() if move.stopped)
        return "; ".join(f"the ride '{name}' goes as far as its setting goes, not all the way" for name in stopped)

    def _moved(self, instance: Instance) -> str:
        made = [applied for applied in self._applied.values() if applied.side == instance.side]
        told = instance.effect.told_positions() if made else {}
        by_index = {control.index: control for control in instance.effect.controls}
        for applied in made:
            control, says = by_index[applied.index], told.get(applied.index, applied.raw)
            if abs(says - applied.raw) > STUCK and control.text_at(says) != applied.text:
                return f"'{applied.name}' moved during the render: {applied.text}, then {control.text_at(says)}"
        return ""


def _last_of_each(positions: list[tuple[Control, float, str]]) -> list[tuple[Control, float, str]]:
    """Only the last position asked of each control, in the order of asking."""
    last = {control.index: number for number, (control, _, _) in enumerate(positions)}
    return [position for number, position in enumerate(positions) if last[position[0].index] == number]
