"""A plugin's window, open while a loop plays through its stage. Runs in workers, in their main thread."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path

import numpy as np

from sweeper.audio import AudioFormat, blocks, inspect
from sweeper.dial.orders import Closed, Moved, WindowOrder, Work
from sweeper.dial.playing import Playing
from sweeper.dial.signs import Signs
from sweeper.dial.stretch import faded
from sweeper.dial.words import shown, written
from sweeper.errors import PluginError, SettingError, StateError
from sweeper.host.control import Control
from sweeper.host.effect import open_effect, settle
from sweeper.host.settings import PATIENCE_BLOCKS, STUCK, control_named
from sweeper.host.setup import StageSetup, loading
from sweeper.host.speakers import Speakers
from sweeper.host.stage import HostedStage
from sweeper.host.vst3 import Vst3Plugin
from sweeper.host.window import show_window
from sweeper.render.room import placed
from sweeper.workers import Report, keep

#: At most so much of what was dialled is lost when the plugin crashes.
KEEP_EVERY_S = 5.0
#: How often the parent's signs are looked for.
_LOOK_EVERY_S = 0.1
_NUDGES = (0.01, 0.37, 1.0)
#: So much of the loop is played before the window opens, to see whether the state stands still. Ours, not tried
#: otherwise.
_TRIED_S = 3.0
Positions = Mapping[int, float]


class _Watch(threading.Event):
    """Asked by the open window, again and again, whether it is to close; keeps the state while it is at it.

    unkept: gets why the state cannot be kept, the first time; the window stays open.
    """

    def __init__(self, plugin: Vst3Plugin, signs: Signs, failed: Callable[[], bool],
                 unkept: Callable[[str], None]) -> None:  # fmt: skip
        super().__init__()
        self._plugin, self._signs, self._failed = plugin, signs, failed
        self._unkept: Callable[[str], None] | None = unkept
        self._kept = b""
        self._kept_s = self._looked_s = time.monotonic()

    def is_set(self) -> bool:
        now_s = time.monotonic()
        if not super().is_set() and now_s - self._looked_s >= _LOOK_EVERY_S:
            self._looked_s = now_s
            if self._signs.close_asked or self._failed():
                self.set()
            elif now_s - self._kept_s >= KEEP_EVERY_S:
                self._kept_s = now_s
                self._keep(self._plugin.save_state())
        return super().is_set()

    def _keep(self, state: bytes) -> None:
        if state == self._kept:
            return
        try:
            self._signs.keep(state)
        except OSError as exc:  # tried again in a while; who dials may make room meanwhile
            if self._unkept is not None:
                self._unkept(f"the state cannot be kept in {self._signs.kept.parent}: {exc.strerror or exc}")
                self._unkept = None
        else:
            self._kept = state


class _Window:
    """A stage whose first instance is dialled. before: where its controls stood when it was set.

    states: before the window opens, after silence: as it was set, and after some of the loop was played.
    """

    def __init__(self, order: WindowOrder, loop: np.ndarray, format: AudioFormat, report: Report) -> None:
        self.order, self.report = order, report
        self.stage = HostedStage(order.setup, format, order.block_frames, report.beat)
        keep(self.stage)
        instance = self.stage.instances[0]
        assert isinstance(instance.effect, Vst3Plugin)
        self.plugin = instance.effect
        self._silence = instance.silence
        self._alone = bool(order.setup.instances)
        self.before = self.positions()
        self.states = (self.plugin.save_state(), self._state_once_played(loop))
        self.stage.reset()

    def _state_once_played(self, loop: np.ndarray) -> bytes:
        """The state after the loop's beginning and silence: another one if it changes with nobody's hand on it."""
        frames = self.order.block_frames
        for at in range(0, round(_TRIED_S * self.stage.format.rate_hz), frames):
            self.stage.push(np.ascontiguousarray(loop[:, (at + np.arange(frames)) % loop.shape[1]]))
            self.report.beat()
        self.positions()
        return self.plugin.save_state()

    def positions(self) -> Positions:
        """Where the controls stand, by the plugin's own word where a second instance may be asked for it."""
        for _ in range(PATIENCE_BLOCKS):
            self._silence()
        self.report.beat()
        if self._alone:
            return {control.index: control.raw() for control in self.plugin.controls}
        return self.plugin.told_positions()

    def open(self, loop: np.ndarray) -> None:
        """Show the window until it is closed, the loop playing. Raises PluginError when the plugin fails meanwhile."""
        signs, setup, say = Signs(self.order.folder), self.order.setup, self.report.say
        speakers = Speakers(loop.shape[0], self.stage.format.rate_hz)

        def told(bypassed: bool, gain_db: float) -> None:
            say({"bypassed": bypassed, "gain_db": gain_db})

        def lost(trouble: str) -> None:
            say({"trouble": trouble})

        def unkept(why: str) -> None:
            say({"unkept": why})

        playing = Playing(self.stage, loop, self.order.block_frames, signs, speakers, told, lost, self.report.beat)
        self.report.phase(f"showing the window of '{setup.name}'", self.order.patience_s)
        say({"window": self.plugin.name, "device": speakers.name, "trouble": speakers.trouble})
        playing.start()
        try:
            show_window(self.plugin, _Watch(self.plugin, signs, lambda: playing.failed is not None, unkept))
        finally:
            playing.stop()
        if playing.failed is not None:
            signs.keep(self.plugin.save_state())
            raise playing.failed

    def closed(self) -> Closed:
        """What stands now."""
        self.report.phase(f"reading what was dialled in '{self.order.setup.name}'", self.order.patience_s)
        after = self.positions()
        moved = [control for control in self.plugin.controls
                 if control.settable and abs(after[control.index] - self.before[control.index]) > STUCK]  # fmt: skip
        named, stood = self._named(), self.plugin.save_state()
        state, back = self._state(after, named)
        meters = self._meters(moved, after) - {control.index for control in named.values()}
        moved = [control for control in moved if control.index not in meters]
        told = tuple(self._moved(control, after) for control in moved)
        notes = tuple(self._lost(moved, after, back, named))
        work = self._work(stood, bool(moved))
        return Closed(state, work, told, {name: control.name for name, control in named.items()}, notes)

    def _work(self, state: bytes, moved: bool) -> Work:
        """Whether anything was done in the window, told by the state too: not everything in it is a control."""
        if moved:
            return Work.DONE
        if state in self.states:
            return Work.NONE
        return Work.DONE if self.states[0] == self.states[1] else Work.UNKNOWN

    def _moved(self, control: Control, after: Positions) -> Moved:
        raw = after[control.index]
        return Moved(control.name, shown(control, self.before[control.index]), shown(control, raw),
                     written(control, raw))  # fmt: skip

    def _named(self) -> dict[str, Control]:
        """The controls that the chain file names, by what it calls them."""
        found = {}
        for name in self.order.names:
            try:
                found[name] = control_named(self.plugin.controls, name)
            except SettingError:  # an alternative need not have what is varied
                continue
        return found

    def _of_one_side(self, named: Mapping[str, Control]) -> list[Control]:
        return [named[name] for name in self.order.of_one_side if name in named]

    def _state(self, after: Positions, named: Mapping[str, Control]) -> tuple[bytes, Positions]:
        """The state to keep, and where the controls of a new instance stand with it.

        What the chain file sets on the dialled side alone stands in the state as it did before the file set it: the
        state is for the other side too.
        """
        of_side = self._of_one_side(named)
        if of_side and not self._alone:
            bare = self._fresh(self.order.setup.state)
            for control in of_side:
                control.put(bare[control.index])
            self.positions()
        state = self.plugin.save_state()
        if self._alone:
            return state, after
        place = self.order.folder / "last.vstpreset"
        place.write_bytes(state)
        try:
            return state, self._fresh(place)
        except StateError as exc:
            Signs(self.order.folder).keep(state)
            moved = (c for c in self.plugin.controls if c.settable and after[c.index] != self.before[c.index])
            lines = "; ".join(f"{control.name}: {written(control, after[control.index])}" for control in moved)
            raise StateError(f"what was dialled cannot be kept as a state: {exc.what}",
                             f"write it into the settings by hand: {lines}") from exc  # fmt: skip

    def _lost(self, moved: Iterable[Control], after: Positions, back: Positions,
              named: Mapping[str, Control]) -> Iterator[str]:  # fmt: skip
        """What the state does not bring back and the chain file does not set."""
        here = {control.index for control in named.values()}
        for control in moved:
            if control.index not in here and abs(back[control.index] - after[control.index]) > STUCK:
                yield (f"the plugin's state does not bring back '{control.name}'; to have it, write "
                       f"`{control.name}: {written(control, after[control.index])}` into the settings")  # fmt: skip

    def _fresh(self, state: Path | None) -> Positions:
        """Where the controls of a new instance stand with a state."""
        effect = open_effect(self.order.setup.path, state)
        keep(effect)
        instance = self.stage.instances[0]
        settle(effect, instance.takes, instance.rate_hz, self.order.block_frames)
        return effect.told_positions()

    def _meters(self, moved: Iterable[Control], after: Positions) -> set[int]:
        """Those among the controls that only show something: put elsewhere, near and far, they never come there."""
        left = [control for control in moved if control.steps == 0]
        for nudge in _NUDGES if left else ():
            aims = {}
            for control in left:
                raw = after[control.index]
                aims[control.index] = min(1.0, raw + nudge) if raw < 0.5 else max(0.0, raw - nudge)
                control.put(aims[control.index])
            told = self.positions()
            left = [control for control in left if abs(told[control.index] - aims[control.index])
                    > abs(after[control.index] - aims[control.index]) / 2]  # fmt: skip
        return {control.index for control in left}


def open_window(order: WindowOrder, report: Report) -> Closed:
    """Open the window of a stage's plugin and come back with what was dialled once it is closed.

    Raises PluginError, SettingError or StateError.
    """
    setup: StageSetup = order.setup
    report.phase(loading(setup), order.patience_s)
    file = inspect(order.loop)
    format = AudioFormat(file.format.channels, file.format.rate_hz)
    loop = faded(np.concatenate(list(blocks(file, file.frames)), axis=1), format.rate_hz)
    with placed(setup):
        try:
            window = _Window(order, loop, format, report)
            window.open(loop)
            return window.closed()
        except OSError as exc:
            raise PluginError(f"its state cannot be kept in {order.folder}: {exc.strerror or exc}",
                              "make room on the disk") from exc  # fmt: skip
