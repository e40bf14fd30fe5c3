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

#: Settings that the hosting library or the plugin's framework adds; nobody dials them.
HOST_INTERNALS = frozenset({"Buffer Size", "Sample Rate", "Latency", "Current Program", "Program"})
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


class Vst3Plugin:
    """One instance of an installed plugin."""

    note = ""

    def __init__(self, path: str) -> None:
        kind = pedalboard.AudioUnitPlugin if path.endswith(".component") else pedalboard.VST3Plugin
        try:
            self._plugin: Any = kind(str(Path(path).expanduser()))
        except (ImportError, ValueError, RuntimeError) as exc:
            raise PluginError(f"{Path(path).name} would not load: {exc}",
                              "open it once in another host: it may want to be authorised") from exc  # fmt: skip
        if not self._plugin.is_effect:
            raise PluginError(f"{self._plugin.name} is an instrument, not an effect", "take it out of the chain")
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
        witness = Vst3Plugin(self.path)
        witness._plugin_state(self._plugin.raw_state)
        return {control.index: control.raw() for control in witness.controls}

    def _plugin_state(self, state: bytes) -> None:
        object.__setattr__(self._plugin, "raw_state", state)
        self._fetched = None

    def load_state(self, path: Path) -> None:
        """Load a .vstpreset. Raises StateError when it is damaged or another plugin's."""
        try:
            data = path.read_bytes()
        except OSError as exc:
            raise StateError(f"the state {path.name} cannot be read: {exc.strerror}", "check its path") from exc
        if data[:4] != b"VST3":
            raise StateError(f"{path.name} is not a .vstpreset file",
                             "save the state as a VST3 preset from a host, or set the settings by name")  # fmt: skip
        try:
            self._fetched = None
            self._plugin.load_preset(str(path))
        except (RuntimeError, ValueError, OSError) as exc:
            raise StateError(f"{self.name} refused the state {path.name}: {exc}",
                             "it is damaged, or another plugin's") from exc  # fmt: skip

    def save_state(self) -> bytes:
        """The plugin's state as .vstpreset data, as it stands after silence has settled it."""
        return bytes(self._plugin.preset_data)

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
