"""An installed plugin (VST3, or AU on macOS) loaded in this process. Imported in workers only.

Private parts of pedalboard used here, each pinned by tests/host/test_pedalboard_pins.py: `_parameters`,
`_reload_type`, `_PythonExternalPluginMixin.__set_initial_parameter_values__`. The last is silenced because
it asks every setting for a thousand texts, twice: minutes for a plugin with many settings, and some crash.
"""

from __future__ import annotations

import re
import weakref
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pedalboard
from pedalboard import _pedalboard as internals

from sweeper.errors import PluginError, StateError
from sweeper.host.misfit import INSTRUMENT
from sweeper.host.place import joined, parted
from sweeper.host.state_check import load_checked
from sweeper.host.state_file import DIAL_IT, audio_unit_codes, read_state
from sweeper.workers import keep

#: Settings that the hosting library or the plugin's framework adds; nobody dials them.
HOST_INTERNALS = frozenset({"Buffer Size", "Sample Rate", "Latency", "Current Program", "Program"})
#: What a plugin is settled in before the mix's format is known.
SETTLE_RATE_HZ, SETTLE_FRAMES = 44100, 1024
_MIDI = re.compile(r"MIDI CC\b")


def _ask_nothing(self: object, parameter_values: object) -> None:
    """In place of the library's own look at every setting."""


setattr(internals._PythonExternalPluginMixin, "__set_initial_parameter_values__", _ask_nothing)  # noqa: B010


class Vst3Control:
    """A control of a loaded plugin. The library's own objects die at a reset: they are fetched anew after each."""

    def __init__(self, plugin: Vst3Plugin, parameter: Any, index: int, name: str) -> None:
        self._plugin_there = weakref.ref(plugin)  # a ring of references would keep a dropped plugin loaded
        self.index = index
        self.name = name
        self.unit = str(parameter.label or "").strip()
        self.steps = int(parameter.num_steps) if 2 <= parameter.num_steps <= 1_000_000 else 0
        self.automatable = bool(parameter.is_automatable)
        self.settable = name not in HOST_INTERNALS and not _MIDI.match(name)

    def _plugin(self) -> Vst3Plugin:
        plugin = self._plugin_there()
        if plugin is None:
            raise ReferenceError(f"the plugin of '{self.name}' is gone")
        return plugin

    def raw(self) -> float:
        """Where the control stands, 0.0 to 1.0."""
        return float(self._plugin().parameters()[self.index].raw_value)

    def put(self, raw: float) -> None:
        """Move the control to `raw`."""
        self._plugin().parameters()[self.index].raw_value = raw

    def text_at(self, raw: float) -> str:
        """What the plugin would show at `raw`."""
        return str(self._plugin().parameters()[self.index].get_text_for_raw_value(raw)).strip()


def _controls(plugin: Vst3Plugin) -> tuple[Vst3Control, ...]:
    """Every control, those that share a name told apart: "Band (1)", "Band (2)"."""
    parameters = plugin.parameters()
    names = [str(parameter.name).strip() for parameter in parameters]
    seen: Counter[str] = Counter()
    controls = []
    for index, (parameter, name) in enumerate(zip(parameters, names, strict=True)):
        seen[name] += 1
        own = f"{name} ({seen[name]})" if names.count(name) > 1 else name
        controls.append(Vst3Control(plugin, parameter, index, own))
    return tuple(controls)


def _kind(file: str) -> Any:
    return pedalboard.AudioUnitPlugin if file.lower().endswith(".component") else pedalboard.VST3Plugin


def names_in(file: str) -> tuple[str, ...]:
    """The names of the plugins in a file, asked of its code; none where it does not tell."""
    try:
        return tuple(map(str, _kind(file).get_plugin_names_for_file(str(Path(file).expanduser()))))
    except (ImportError, ValueError, RuntimeError):  # loading it says what is wrong
        return ()


def _loaded(place: str) -> Any:
    """The library's own object. Raises PluginError when nothing loads, something else does, or it is no effect."""
    file, inner = parted(place)
    try:
        plugin = _kind(file)(str(Path(file).expanduser()), plugin_name=inner or None)
    except (ImportError, ValueError, RuntimeError) as exc:
        raise _refusal(file, inner, exc) from exc
    if inner and plugin.name != inner:  # a name is not looked at by the library where the file holds one plugin
        raise PluginError(f"{Path(file).name} holds no '{inner}', only '{plugin.name}'", f"name it by its file: {file}")
    if not plugin.is_effect:
        raise PluginError(f"{plugin.name} is {INSTRUMENT.what}", INSTRUMENT.remedy)
    return plugin


def _refusal(file: str, inner: str, exc: Exception) -> PluginError:
    names = names_in(file)
    if len(names) > 1 and inner not in names:
        what = f"holds no '{inner}'" if inner else f"holds {len(names)} plugins"
        return PluginError(f"{Path(file).name} {what}; they are: {', '.join(names)}",
                           f"name one of them: {joined(file, names[0])}")  # fmt: skip
    return PluginError(f"{inner or Path(file).name} would not load: {exc}",
                       "open it once in another host: it may want to be authorised")  # fmt: skip


class Vst3Plugin:
    """One instance of an installed plugin."""

    note = ""

    def __init__(self, path: str) -> None:
        self._plugin: Any = _loaded(path)
        keep(self._plugin)  # should it crash while it is taken down, the task's outcome is out by then
        # Guessed at random by the library at load; when it guesses wrong, renders do not repeat.
        persists = pedalboard.ExternalPluginReloadType.PersistsAudioOnReset
        object.__setattr__(self._plugin, "_reload_type", persists)
        self.name = str(self._plugin.name)
        self.maker = str(self._plugin.manufacturer_name)
        self.version = str(self._plugin.version)
        self.identifier = str(self._plugin.identifier)
        self.category = str(self._plugin.category)
        self.path = path
        self._fetched: list[Any] | None = None
        self._witness: Vst3Plugin | None = None
        self.controls = _controls(self)

    @property
    def latency_frames(self) -> int:
        """The delay that the plugin reports, in frames; the library takes it out of what comes back."""
        return int(self._plugin.reported_latency_samples)

    def parameters(self) -> list[Any]:
        """The library's parameter objects, valid until the plugin is next reset, run or given a state."""
        if self._fetched is None:
            self._fetched = list(self._plugin._parameters)
        return self._fetched

    def told_positions(self) -> dict[int, float]:
        """Where the plugin itself says that its controls stand, by index, after silence has settled them.

        The library remembers what it set, not what the plugin made of it; the plugin's own word is in its
        state, read here by a second instance.
        """
        if self._witness is None:
            self._witness = Vst3Plugin(self.path)
        self._witness._plugin_state(self._plugin.raw_state)
        return {control.index: control.raw() for control in self._witness.controls}

    def _plugin_state(self, state: bytes) -> None:
        object.__setattr__(self._plugin, "raw_state", state)
        self._fetched = None

    def load_state(self, path: Path, alone: bool = False) -> None:
        """Load a state: a `.vstpreset`, or for an Audio Unit an `.aupreset` (untested here: there is no Mac to try).

        alone: no second instance may be loaded to check it with. Raises StateError when it is damaged, another
        plugin's, or the plugin does not restore it.
        """
        data = read_state(path)
        if not self._is_audio_unit:
            load_checked(self, data, path.name, None if alone else lambda: Vst3Plugin(self.path))
        elif all(code in self.identifier for code in audio_unit_codes(data, path.name)):
            self._plugin_state(data)
        else:
            raise StateError(f"the state {path.name} is of another Audio Unit than {self.name}", DIAL_IT)

    def take_state(self, data: bytes) -> None:
        """Load `.vstpreset` data. Raises StateError when the plugin refuses it."""
        self._fetched = None
        try:
            object.__setattr__(self._plugin, "preset_data", data)
        except (RuntimeError, ValueError) as exc:
            raise StateError(f"{self.name} refuses the state: {exc}",
                             f"save it again from this version of the plugin, or {DIAL_IT}") from exc  # fmt: skip

    def save_state(self) -> bytes:
        """The plugin's state as a `.vstpreset` has it (an Audio Unit's: `.aupreset`), after silence has settled it."""
        return bytes(self._plugin.raw_state if self._is_audio_unit else self._plugin.preset_data)

    def settle(self) -> None:
        """Run a block of silence before the plugin's format is known; it takes up what was set."""
        silence = np.zeros((2, SETTLE_FRAMES), np.float32)
        try:
            self.process(silence, SETTLE_RATE_HZ, SETTLE_FRAMES)
        except ValueError:  # a mono plugin
            self.process(silence[:1], SETTLE_RATE_HZ, SETTLE_FRAMES)

    @property
    def _is_audio_unit(self) -> bool:
        return parted(self.path)[0].lower().endswith(".component")

    def reset(self) -> None:
        """Forget all audio heard so far."""
        self._fetched = None
        self._plugin.reset()

    def process(self, block: np.ndarray, rate_hz: int, block_frames: int) -> np.ndarray:
        """Run (channels, frames) float32 through; what comes back may be shorter at first (latency).

        Raises ValueError when the plugin does not take that many channels.
        """
        self._fetched = None
        out: np.ndarray = self._plugin.process(block, rate_hz, buffer_size=block_frames, reset=False)
        return out
